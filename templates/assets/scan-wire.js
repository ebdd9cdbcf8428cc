// Talking to the server. Whatever is not a plain answer is thrown as a word that the page can show, with the server's
// own sentence if it gave one: "unreachable" (try again later), "signed-out", "refused".

export class Trouble extends Error {
  constructor(word, sentence = "") {
    super(sentence || word);
    Object.assign(this, { word, sentence });
  }
}

// An ended session may answer with a redirect to the sign-in page, which a fetch that follows it takes for success.
export const ask = async (url, options = {}) => {
  let answer;
  try {
    answer = await fetch(url, { redirect: "manual", cache: "no-store", credentials: "same-origin", ...options });
  } catch {
    throw new Trouble("unreachable");
  }
  const json = answer.headers.get("Content-Type")?.includes("json");
  const said = json ? await answer.json().catch(() => null) : null;
  if (answer.ok && said !== null) return said;
  if (answer.type === "opaqueredirect" || answer.status === 401) throw new Trouble("signed-out", said?.sentence);
  // Out of date means: fetch a new token, which the next round does.
  const passing = answer.ok || answer.status >= 500 || [408, 429].includes(answer.status) || said?.code === "form-token";
  throw new Trouble(passing || said === null ? "unreachable" : "refused", said?.sentence);
};

const send = (url, body, kind, token) =>
  ask(url, { method: "POST", headers: { "Content-Type": kind, "X-CSRFToken": token }, body });

export const post = (url, body, token) => send(url, JSON.stringify(body), "application/json", token);

export const postPhoto = (url, blob, token) => send(url, blob, "image/jpeg", token);
