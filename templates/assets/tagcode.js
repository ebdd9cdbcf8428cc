// A tag code is eight characters and a check character; the same rule as on the server, so that a slip of the
// finger is caught before anything is sent.

const ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ";

export const compact = (text) => {
  const address = /^[a-z][a-z0-9+.-]*:\/\/[^/?#]+(?:\/[^?#]*)?\/t\/([^/?#]+)\/?(?:[?#].*)?$/i.exec(text.trim());
  return (address ? decodeURIComponent(address[1]) : text).replace(/[\s\-\u2010-\u2015_.]+/g, "").toUpperCase();
};

const strangeIn = (code) => {
  const strange = [...code].find((character) => !ALPHABET.includes(character));
  return strange ? `No tag code holds “${strange}”. Codes never hold 0, O, 1, I or L. Read the tag again.` : "";
};

// While it is still being typed: what is wrong already. An address is only looked at when it is whole.
export const wrongSoFar = (text) => {
  const code = compact(text);
  if (/[:/]/.test(text)) return "";
  return code.length >= 9 ? wrong(text) : strangeIn(code);
};

// "" when the code is a tag code, otherwise what is wrong with it.
export const wrong = (text) => {
  const code = compact(text);
  const strange = strangeIn(code);
  if (strange) return strange;
  if (code.length !== 9) return `A tag code has 9 characters; this has ${code.length}. Read it again.`;
  const sum = [...code].reduce((total, character, place) => total + (9 - place) * ALPHABET.indexOf(character), 0);
  return sum % 31 === 0 ? "" : "A character is wrong or two are swapped. Read the tag again.";
};
