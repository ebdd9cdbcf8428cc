// The scan page: the input keeps the focus, a wrong code is caught before it is sent, Enter sends, and the choice
// of clean or dirty stays while the damage goes with one scan only. A handheld may read the next tag while the last
// one is still on its way: readings wait in line and are sent one after another, in order, none dropped.

import { wrong } from "./tagcode.js";

const form = document.getElementById("scan-form");
const code = document.getElementById("code");
const trouble = document.getElementById("code-trouble");
const typed = document.getElementById("typed");
const outcome = document.getElementById("outcome");
const waiting = [];
let sending = false;
let first = 0;

const refocus = () => code.focus({ preventScroll: true });

const shake = (sentence) => {
  trouble.textContent = sentence;
  navigator.vibrate?.([200, 80, 200]);
};

const show = (html) => {
  outcome.innerHTML = html;
  window.htmx?.process(outcome);
  const stopped = outcome.querySelector(".last-stop");
  navigator.vibrate?.(stopped ? [200, 80, 200] : 60);
  if (!document.getElementById("override")) refocus();
};

const send = async () => {
  if (sending) return;
  sending = true;
  while (waiting.length) {
    try {
      const answer = await fetch(form.action, { method: "POST", body: waiting[0], headers: { "HX-Request": "true" } });
      if (!answer.ok || answer.redirected) throw new Error(String(answer.status));
      waiting.shift();
      show(await answer.text());
    } catch {
      const [left] = waiting;
      shake(`Not sent: ${left.get("code")}${waiting.length > 1 ? ` and ${waiting.length - 1} more` : ""}. Press Enter to send again.`);
      break;
    }
  }
  sending = false;
};

// A handheld types a code in a burst; a hand takes longer than 50 ms a character.
code.addEventListener("input", () => {
  if (code.value.length <= 1) first = performance.now();
  if (!waiting.length) trouble.textContent = "";
});

form.noValidate = true;
form.addEventListener("submit", (event) => {
  event.preventDefault();
  if (code.value.trim() || !waiting.length) {
    const sentence = wrong(code.value);
    if (sentence) {
      shake(sentence);
      code.select();
      return;
    }
    typed.value = performance.now() - first > 50 * code.value.length ? "1" : "";
    waiting.push(new FormData(form));
    code.value = "";
    trouble.textContent = "";
    form.querySelectorAll("select[data-once]").forEach((select) => (select.value = ""));
  }
  send();
});

window.addEventListener("beforeunload", (event) => {
  if (waiting.length) event.preventDefault();
});

document.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.target === outcome && !document.getElementById("override")) refocus();
});

if (!window.isSecureContext) document.getElementById("no-camera").hidden = false;
refocus();
