// One reading, taken: what it is, whether the phone itself must stop it, and then into the queue.
//
// Before something happens the phone asks: itself, by what it knows, and the server, when that is in reach. After it
// has happened, or out of reach, it tells. Which of the two it was is fixed at the scan and stays with it.

import { DOINGS } from "./scan-doings.js";
import { readCode } from "./scan-code.js";
import { put, scansAt } from "./scan-queue.js";
import { counted } from "./scan-tally.js";

const AGAIN_AFTER = 10 * 60_000; // cleaning the same piece twice within ten minutes is one cleaning

export const UNKNOWN = "This phone does not know this tag yet; the server will say what it is.";

const outcome = (tone, head, sentence, more = {}) => ({ ...more, tone, head, sentence });

export const stop = (sentence, more) => outcome("stop", "Not taken", sentence, more);

const gone = (row) => row.state === "undone" || row.state === "refused";

const undoneIn = (rows) => new Set(rows.filter((row) => row.doing === "undo" && !gone(row)).map((row) => row.wire.takes_back));

// Whether this code was taken here already, and not taken back since.
const already = (context, code, piece, rows) => {
  if (DOINGS[context.doing].again) return false;
  if (context.docket && piece) {
    const { on } = counted(context, rows);
    return on.has(piece.id);
  }
  const undone = undoneIn(rows);
  const always = context.docket || DOINGS[context.doing].once;
  const stocktake = context.doing === "count" ? context.place.stocktake : undefined;
  return rows.some((row) => row.code === code && row.doing === context.doing && !gone(row) && !undone.has(row.id)
    && (always || row.at > Date.now() - AGAIN_AFTER) && row.wire.stocktake === stocktake);
};

const NOT_AGAIN = { load: "It is on this docket already.", arrive: "It was counted already.", count: "It was seen already." };

export const troubleWith = (text) => readCode(text).trouble ?? "";

// context: {doing, key, docket, place, known, me, dirty, inReach}; seen: "scanned" or "typed"
export const take = async (context, text, seen, override = "") => {
  const { code, trouble } = readCode(text);
  if (trouble) return stop(trouble);
  const pour = context.known?.placeTagged(code);
  if (pour) return { pour, code };
  const piece = context.known?.piece(code) ?? null;
  const about = { piece, code, type: context.known?.type(piece?.type) ?? null };
  if (context.doing === "look-up") return lookUp(context, about);
  const rows = await scansAt(context.key);
  if (already(context, code, piece, rows)) {
    return outcome("look", "Already", NOT_AGAIN[context.doing] ?? "That was taken a moment ago.", about);
  }
  if (context.doing === "damage") return outcome("look", "What is wrong?", "Say what is wrong with it.", { ...about, damage: true });
  if (context.doing === "not-in" && !context.place.last_press) return stop("This phone knows of no press on this pour that could be taken back.", about);
  const doing = DOINGS[context.doing];
  // Broken gear may go home; what is locked is sending it out and setting it.
  if (doing.asks && piece && !override && !context.docket?.to_yard) {
    const unfit = context.known.with(piece).filter((one) => one.fitness === "unfit");
    if (unfit.length) return unfitStop(context, unfit, about);
  }
  const wire = { tag: code, seen, ...doing.said(context) };
  if (doing.asks) wire.manner = context.inReach && !override ? "ask" : "tell";
  if (override) Object.assign(wire, { override, manner: "ask" });
  return taken(context, wire, about);
};

const unfitStop = (context, unfit, about) =>
  stop(`${unfit.map((one) => one.label).join(", ")} is marked unfit and stays here. A manager may override it with a reason.`, {
    ...about,
    unfit: true,
  });

const taken = async (context, wire, about) => {
  const { piece, code, type } = about;
  const pieces = piece ? context.known.with(piece).map((one) => one.id) : code ? [`tag ${code}`] : [];
  const row = await put({
    wire: { ...wire, by: context.me.id },
    who: context.me,
    doing: context.doing,
    where: context.key,
    place: context.name,
    code,
    type: type?.code ?? "",
    pieces,
  });
  const unfit = piece?.fitness === "unfit";
  return outcome(
    unfit ? "stop" : "good",
    unfit ? "Unfit: set it aside" : DOINGS[context.doing].done,
    piece ? listed(pieces) : UNKNOWN,
    { ...about, row },
  );
};

export const listed = (pieces) => (pieces.length > 1 ? `A crate: ${pieces.length - 1} listed in it taken with it.` : "");

// A piece whose tag cannot be read, by its type. Whether it is marked unfit nobody can know.
export const takeUntagged = async (context, type) => {
  const { asks, said } = DOINGS[context.doing];
  const wire = { type: type.code, seen: "typed", ...said(context) };
  if (asks) wire.manner = context.inReach ? "ask" : "tell";
  const done = await taken(context, wire, { piece: null, code: "", type });
  const look = asks ? " Look it over first: without its tag nobody can say whether it is marked unfit." : "";
  return { ...done, sentence: `Counted by type. Which piece it was is settled in the review.${look}` };
};

// A heap of counted goods, seen in a stocktake.
export const takeGoods = (context, type, quantity) =>
  taken(context, { type: type.code, quantity, seen: "typed", ...DOINGS[context.doing].said(context) }, { piece: null, code: "", type }).then(
    (done) => ({ ...done, sentence: `${quantity} in this heap. Heaps of one type add up; undo a wrong one. The record changes when the stocktake is closed.` }),
  );

// The code of a setting-out sheet speaks for the whole pour.
export const takeWhole = (context, pour, said) =>
  taken({ ...context, place: pour }, { whole: "pour", pour: pour.id, seen: "scanned", ...said }, { piece: null, code: "", type: null }).then(
    (done) => ({ ...done, sentence: `All of ${context.known.placeName(pour.id)}. What was not in it: scan it under “Was not in the pour”.` }),
  );

// Damage to one piece, beside whatever else was said of it.
export const takeDamage = async (context, about, { reason, grade, photos, note }) => {
  const place = context.place?.id ?? context.docket?.to;
  const said = about.code ? { tag: about.code } : { type: about.type.code };
  const wire = { what: "found damaged", ...said, place, grade, reason, seen: about.code ? "scanned" : "typed", by: context.me.id };
  if (note) wire.note = note;
  if (about.code && context.doing === "arrive") wire.docket = context.docket.id; // found on which return
  const row = await put({
    wire,
    photos,
    who: context.me,
    doing: "damage",
    where: context.key,
    place: context.name,
    code: about.code,
    type: about.type?.code ?? "",
    pieces: about.piece ? [about.piece.id] : [],
  });
  const words = photos.length ? ` ${photos.length === 1 ? "One photo" : `${photos.length} photos`} kept with it.` : "";
  const unfit = grade === "unfit";
  return outcome(unfit ? "stop" : "look", unfit ? "Marked unfit: set it aside" : "Marked: watch", `${reason}.${words}`, { ...about, row });
};

const lookUp = ({ known }, about) => {
  if (!about.piece) return outcome("look", "Not known to this phone", "With signal, its page says what it is.", { ...about, page: true });
  const { place, docket } = about.piece;
  const number = known.said.dockets.find((one) => one.id === docket)?.number;
  const where = place ? `At ${known.placeName(place)}.` : number ? `On docket ${number}.` : "It is on the way.";
  return outcome("good", "Found", where, { ...about, page: true });
};
