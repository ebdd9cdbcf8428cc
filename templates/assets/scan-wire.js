// Talking to the server. Whatever is not a plain answer is thrown as a word that the page can show, with the server's
// own sentence if it gave one: "unreachable" (try again later), "signed-out", "refused".

export class Trouble extends Error {
  constructor(word, sentence = "") {
    super(sentence || word);
    Object.assign(this, { word, sentence });
  }
}

// A bad signal hangs more often than it fails, and what hangs keeps all that waits behind it: after so many seconds it is
// given up and sent again. Nothing is lost or doubled by that, for the server knows each scan and photo by its id. Phones
// of before 2022 cannot give up, and wait as long as they do.
const PATIENCE = { question: 30, scans: 90, photo: 180 };

// An ended session may answer with a redirect to the sign-in page, which a fetch that follows it takes for success.
export const ask = async (url, options = {}, patience = PATIENCE.question) => {
  const signal = AbortSignal.timeout?.(1000 * patience);
  let answer;
  try {
    answer = await fetch(url, { redirect: "manual", cache: "no-store", credentials: "same-origin", signal, ...options });
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

const send = (url, body, kind, token, patience) =>
  ask(url, { method: "POST", headers: { "Content-Type": kind, "X-CSRFToken": token }, body }, patience);

export const post = (url, body, token) => send(url, JSON.stringify(body), "application/json", token, PATIENCE.scans);

export const postPhoto = (url, blob, token) => send(url, blob, "image/jpeg", token, PATIENCE.photo);
