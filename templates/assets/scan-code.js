// What a reading is: one of our tags, or what is wrong with it.

import { compact, wrong } from "./tagcode.js";

export const readCode = (text) => {
  const trouble = wrong(text);
  if (!trouble) return { code: compact(text) };
  return { trouble: /^[a-z][a-z0-9+.-]*:/i.test(text.trim()) ? "That is not one of our tags." : trouble };
};

export const spaced = (code) => (code?.length === 9 ? `${code.slice(0, 4)}-${code.slice(4, 8)}-${code.slice(8)}` : code);
