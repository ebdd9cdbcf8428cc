// What the hands can be doing, in the words of the page, and what one scan of it says to the server.
//
//   where     what is chosen first: a docket, a pour, a place, or nothing
//   done      the word that confirms a scan
//   said      the fields of the scan that the code and the time do not give
//   only      which places can be chosen, and what is said when none can
//   once      the same tag is never news again, however much later
//   again     the same tag later in the same place is news again (being bent twice), instead of "already"
//   byTag     only a tag will do: nothing can be said here of a piece whose tag cannot be read

const onTheWay = (docket) => ({ docket: docket.id });

const arrives = ({ docket, dirty }) =>
  docket.to_yard ? { what: "returned", ...onTheWay(docket), dirty } : { what: "received", ...onTheWay(docket) };

export const DOINGS = {
  load: {
    label: "Load a truck", where: "docket", done: "Loaded", asks: true,
    said: ({ docket }) => ({ what: "sent", ...onTheWay(docket) }),
  },
  arrive: { label: "Count off a truck", where: "docket", done: "Counted", said: arrives },
  set: {
    label: "Set in a pour", where: "pour", done: "Set", asks: true,
    said: ({ place }) => ({ what: "set", pour: place.id }),
    whole: "Set all of it",
  },
  strip: {
    label: "Strip from a pour", where: "pour", done: "Stripped", whole: "Strip all of it",
    said: ({ place }) => ({ what: "stripped", pour: place.id, place: place.parent ?? place.id }),
  },
  "not-in": {
    label: "Was not in the pour", where: "pour", done: "Left out of the last press", byTag: true,
    said: ({ place }) => ({ what: "reversed", takes_back: place.last_press }),
  },
  clean: {
    label: "Clean", where: "place", done: "Clean", whole: "Clean all of it",
    said: ({ place }) => ({ what: "cleaned", place: place.id }),
  },
  damage: {
    label: "Something is bent", where: "place", done: "Marked", again: true,
    said: ({ place }) => ({ what: "found damaged", place: place.id }),
  },
  count: {
    label: "Count in a stocktake", where: "place", only: (place) => place.stocktake, done: "Seen", once: true,
    nothing: "No stocktake is open. The yard manager opens one under Stocktakes.",
    said: ({ place }) => ({ what: "counted", place: place.id, stocktake: place.stocktake }),
  },
  "look-up": { label: "Look up", where: "", done: "Found", byTag: true },
};

// The way in that a page's address names: what, and where. Null while something is still to be chosen.
export const wayIn = (search) => {
  const asked = new URLSearchParams(search);
  const doing = asked.get("doing") ?? "";
  if (!(doing in DOINGS)) return null;
  const id = Number(asked.get(DOINGS[doing].where === "docket" ? "docket" : "place")) || null;
  return { doing, id, key: `${doing} ${id ?? ""}`.trim() };
};

export const address = (doing, id) => {
  const query = new URLSearchParams({ doing });
  const { where } = DOINGS[doing];
  if (id && where) query.set(where === "docket" ? "docket" : "place", id);
  return `?${query}`;
};
