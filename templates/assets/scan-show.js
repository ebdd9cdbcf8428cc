// What the page shows of scans: the last one in large type, the list, the count, the queue.

import { fill, make, plural, thousands } from "./elements.js";
import { DOINGS } from "./scan-doings.js";
import { spaced } from "./scan-code.js";
import { counted, lines, total } from "./scan-tally.js";

const MOST_ROWS = 60;

const length = (type) => (type?.length_mm ? `${(type.length_mm / 1000).toFixed(2)} m` : "");

const state = (piece) => (piece ? `${piece.fitness}, ${piece.dirty ? "dirty" : "clean"}` : "");

const describe = (one, lift) => [
  one.type && make("p", { className: "last-piece", text: one.type.name }),
  one.code && make("p", {}, make("span", { className: "code", text: spaced(one.code) }), ` ${[length(one.type), state(one.piece)].filter(Boolean).join(", ")}`),
  one.sentence && make("p", { text: one.sentence }),
  one.type && lift && (one.mass || one.type.mass_kg) >= lift
    && make("p", { className: "lift", text: `${thousands(Math.round((one.mass || one.type.mass_kg) * 10) / 10)} kg: two to lift this one, or a machine. Your local code decides.` }),
];

export const showLast = (place, one, lift, ...presses) => {
  place.className = `last last-${one.tone}`;
  place.hidden = false;
  fill(place, make("p", { className: "last-head", text: one.head }), describe(one, lift), presses.length ? make("div", { className: "presses" }, presses) : null);
};

const WORDS = { waiting: "waiting", recorded: "recorded", review: "kept for review", refused: "refused", undone: "taken back" };

export const showList = (place, rows, known) => {
  const undone = new Set(rows.filter((row) => row.doing === "undo").map((row) => row.wire.takes_back));
  const shown = rows.filter((row) => row.doing !== "undo").reverse().slice(0, MOST_ROWS);
  fill(place, shown.map((row) => {
    const type = known?.typeOfRow(row);
    const word = undone.has(row.id) ? "taken back" : row.settled ? "settled" : WORDS[row.state];
    return make("li", { className: `taken taken-${row.state}`, "data-code": row.code || "untagged" },
      make("span", { className: "taken-type", text: type ? [type.name, length(type)].filter(Boolean).join(", ") : (row.code ? "not known yet" : DOINGS[row.doing]?.label ?? "the whole pour") }),
      make("span", { className: "code", text: spaced(row.code) || (row.wire.quantity === undefined ? "no tag" : `${thousands(row.wire.quantity)} of it`) }),
      make("span", { className: "taken-word", text: row.state === "refused" ? word : `${DOINGS[row.doing]?.done ?? ""}, ${word}` }));
  }));
};

export const showTally = (place, context, rows) => {
  const { docket, doing, known } = context;
  if (!docket) {
    const some = rows.filter((row) => row.doing === doing && row.state !== "undone" && row.state !== "refused").length;
    const there = doing === "count" ? `; the record has ${thousands(known.at(context.place.id))} here` : "";
    fill(place, some || there ? make("p", { className: "tally-line" }, make("strong", { text: thousands(some) }), ` scanned here${there}`) : null);
    return;
  }
  const { got } = counted(context, rows);
  const all = lines(docket, doing, got);
  const [wanted, have, missing] = ["wanted", "got", "missing"].map((name) => total(all, name));
  const sum = make("strong", { text: thousands(wanted ? wanted - missing : have) });
  const rest = doing === "load" ? (wanted ? ` of ${thousands(wanted)} wanted; ${thousands(have)} loaded in all` : " loaded") : wanted ? ` of ${thousands(wanted)} loaded have been counted off` : " counted off; by the record nothing is loaded yet";
  const lacking = all.filter((line) => line.missing);
  fill(place,
    make("p", { className: "tally-line" }, sum, rest),
    lacking.length
      ? [make("h2", { text: doing === "load" ? "Still missing" : "Not counted yet" }),
        make("ul", { className: "missing" }, lacking.map((line) => make("li", {}, make("strong", { text: thousands(line.missing) }), ` x ${known.type(line.type)?.name ?? line.type}`)))]
      : wanted ? make("p", { className: "all-there", text: "Nothing is missing." }) : null);
};

export const age = (ms) => {
  const minutes = Math.floor(ms / 60_000);
  if (minutes < 1) return "under a minute";
  if (minutes < 60) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  return hours < 48 ? `${hours} h` : `${Math.floor(hours / 24)} days`;
};

const MOST_UNFIT = 100;

// What the phone knows when nobody can be asked: how much, how old it is, and above all which pieces are unfit.
export const showKnown = (sum, more, known) => {
  const { pieces, left_out: left } = known.said;
  const unfit = pieces.filter((piece) => piece.fitness === "unfit");
  sum.textContent = `This phone knows ${plural(pieces.length, "piece")} here, ${unfit.length} unfit; told ${age(Date.now() - known.asked)} ago`;
  const where = (piece) => (piece.place ? known.placeName(piece.place) : "on the way");
  fill(more,
    left ? make("p", { text: `${plural(left, "piece")} more are at these places than a phone can hold.` }) : null,
    unfit.length ? make("p", { text: "Unfit, not to be loaded or set:" }) : make("p", { text: "None of them is marked unfit." }),
    make("ul", { className: "missing" }, unfit.slice(0, MOST_UNFIT).map((piece) =>
      make("li", {}, make("span", { className: "code", text: spaced(piece.label) }), ` ${known.type(piece.type)?.name ?? ""}, ${where(piece)}`))),
    unfit.length > MOST_UNFIT ? make("p", { text: `and ${unfit.length - MOST_UNFIT} more` }) : null);
};

const TROUBLE = {
  unreachable: "No answer from the server; they are kept and sent by themselves.",
  "signed-out": "You are signed out. The scans are kept: sign in to send them.",
};

// The corner that is always in view: how many wait, how old the oldest is, and why.
export const showWaiting = (place, { count, oldest, first }, photos, status, me, signIn) => {
  place.classList.toggle("waiting-some", count > 0 || photos > 0);
  const many = count ? `${plural(count, "scan")} waiting, oldest ${age(Date.now() - oldest)}` : photos ? `${plural(photos, "photo")} waiting` : "Nothing waiting";
  const whose = count && first && me && first.id !== me.id ? ` The oldest are ${first.name}’s and go under that name.` : "";
  const why = count || photos ? TROUBLE[status.state] ?? status.sentence ?? "" : status.state === "signed-out" ? "You are signed out." : "";
  fill(place, make("strong", { text: many }), why || whose ? ` ${why}${whose}` : "",
    status.state === "signed-out" ? make("a", { className: "press", href: signIn, text: "Sign in" }) : null);
};

const MOST_OPEN = 30;

// What a person must look at: refused, or kept for review.
export const showOpen = (place, rows, known, done) => {
  place.hidden = rows.length === 0;
  fill(place,
    make("h2", { text: `${plural(rows.length, "scan")} ${rows.length === 1 ? "needs" : "need"} a person` }),
    make("ul", { className: "open-scans" }, rows.slice(0, MOST_OPEN).map((row) =>
      make("li", {},
        make("p", {}, make("strong", { text: row.state === "refused" ? "Refused" : "Kept for review" }),
          ` ${known?.typeOfRow(row)?.name ?? ""} `, make("span", { className: "code", text: spaced(row.code) }), row.place ? `, ${row.place}` : ""),
        make("p", { text: row.answer?.sentence ?? "" }),
        row.state === "refused"
          ? make("button", { type: "button", className: "press-quiet", onclick: () => done([row.id]), text: "Dealt with" })
          : make("p", { className: "quiet", text: "The yard manager settles it under Review; then it goes from here." })))),
    rows.length > MOST_OPEN ? make("p", { text: `and ${thousands(rows.length - MOST_OPEN)} more` }) : null);
};
