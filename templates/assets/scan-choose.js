// Before the first scan: what are you doing, and where. Large presses, no menu.

import { DOINGS, address } from "./scan-doings.js";
import { make } from "./elements.js";

const press = (label, href, note) =>
  make("li", {}, make("a", { className: "press press-quiet", href, "data-step": true }, make("span", {}, label, note && make("small", { text: note }))));

export const doings = (slab) => [
  ...Object.entries(DOINGS).map(([doing, { label }]) => press(label, address(doing))),
  slab && make("li", {}, make("a", { className: "press press-quiet", href: slab, text: "At the pour" })),
];

// The choices of one doing: dockets, pours or places that the phone knows.
export const places = (doing, known) => {
  const { where } = DOINGS[doing];
  if (where === "docket") {
    return known.said.dockets
      .filter((docket) => doing !== "load" || docket.stage === "loading")
      .sort((a, b) => b.id - a.id)
      .map((docket) => press(known.docketName(docket), address(doing, docket.id), docket.stage));
  }
  const only = DOINGS[doing].only ?? (() => true);
  const wanted = (place) => (place.kind === "pour") === (where === "pour") && only(place);
  return known.said.places
    .filter(wanted)
    .sort((a, b) => known.placeName(a.id).localeCompare(known.placeName(b.id)))
    .map((place) => press(known.placeName(place.id), address(doing, place.id)));
};

export const QUESTIONS = { docket: "Which docket?", pour: "Which pour?", place: "Where are you?" };

export const NOTHING = {
  docket: "No docket is open for this. A docket is opened for a truck before anything is scanned onto it.",
  pour: "No pour is open. Pours come with a job’s panel schedule.",
  place: "No place is known yet.",
};

// The way in as the server is asked about it.
export const asWhere = (way) => {
  const where = way && DOINGS[way.doing].where;
  return where && way.id ? { what: where === "docket" ? "docket" : "place", id: way.id } : null;
};

// What can be said of a whole pour here: strip it, clean it, or set it from the pour below or a docket.
export const wholePresses = ({ doing, known }, pour) => {
  if (doing === "strip") return [{ label: "Strip all of it", said: { what: "stripped" } }];
  if (doing === "clean") return [{ label: "Clean all of it", said: { what: "cleaned" } }];
  if (doing !== "set") return [];
  const pieces = known.said.pieces;
  const below = known.said.places.filter((place) => place.kind === "pour" && place.within === pour.within && place.id !== pour.id);
  const sources = below.filter((place) => pieces.some((piece) => piece.pour === place.id && piece.phase === "stripped"));
  const dockets = known.said.dockets.filter((docket) => docket.to === pour.within && pieces.some((piece) => piece.docket === docket.id && piece.place === docket.to));
  return [
    ...sources.map((place) => ({ label: `Set all that was stripped from ${place.name}`, said: { what: "set", from: place.id } })),
    ...dockets.map((docket) => ({ label: `Set all left from ${docket.number}`, said: { what: "set", whole: "docket", docket: docket.id } })),
  ];
};

// Types of goods that a stocktake counts by the heap.
export const goodsTypes = (select, context) => {
  if (context?.doing !== "count") return;
  const goods = context.known.said.types.filter((type) => type.tracked === "by count");
  const chosen = select.value;
  select.replaceChildren(make("option", { value: "", text: "choose the type" }), ...goods.map((type) => make("option", { value: type.code, text: type.name })));
  select.value = chosen;
};

// Types for a piece without a readable tag: those of this docket, or of what lies here, first.
export const untaggedTypes = (form, context) => {
  form.hidden = !context || Boolean(DOINGS[context.doing].byTag);
  if (form.hidden) return;
  const { said } = context.known;
  const here = new Set(context.docket ? context.docket.lines.map((line) => line.type) : said.pieces.map((piece) => piece.type));
  const tagged = said.types.filter((type) => type.tracked === "by tag");
  const options = tagged.sort((a, b) => here.has(b.code) - here.has(a.code));
  const select = form.elements.type;
  const chosen = select.value;
  select.replaceChildren(make("option", { value: "", text: "choose the type" }), ...options.map((type) => make("option", { value: type.code, text: type.name })));
  select.value = chosen;
};

// What of a docket is not scanned: the tags chosen for it, and its counted goods. Both want the server.
export const docketWays = (place, way) => {
  place.hidden = DOINGS[way.doing].where !== "docket";
  for (const link of place.querySelectorAll("a")) {
    link.href = link.dataset.way.replace("/0/", `/${way.id}/`);
    link.hidden = Boolean(link.dataset.only) && link.dataset.only !== way.doing;
  }
};
