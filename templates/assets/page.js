// Small manners of every page: printing, a second thought before a press that matters, no double press,
// and a sentence when a part of the page could not be fetched.

const trouble = (sentence) => {
  const place = document.getElementById("trouble");
  if (place) place.textContent = sentence;
};

document.addEventListener("click", (event) => {
  if (event.target.closest("[data-print]")) window.print();
});

document.addEventListener("submit", (event) => {
  const form = event.target;
  const question = event.submitter?.dataset.confirm ?? form.dataset.confirm;
  if (question && !window.confirm(question)) {
    event.preventDefault();
    return;
  }
  if (form.method === "post" && !form.hasAttribute("data-again")) {
    // After this turn, so that the pressed button's own name and value are still sent.
    setTimeout(() => form.querySelectorAll("button:not([type=button])").forEach((button) => (button.disabled = true)));
  }
});

// A page taken back from the browser's memory must be usable again.
window.addEventListener("pageshow", (event) => {
  if (event.persisted) document.querySelectorAll("form button:disabled").forEach((button) => (button.disabled = false));
});

document.addEventListener("htmx:sendError", () => trouble("The server cannot be reached. Nothing was sent; try again."));
document.addEventListener("htmx:responseError", (event) => {
  const status = event.detail.xhr.status;
  trouble(
    status === 403
      ? "This press is not for your role, or the page is out of date. Open the page again."
      : `The server answered with an error (${status}). Open the page again before you press again.`,
  );
});
document.addEventListener("htmx:beforeRequest", () => trouble(""));
