// Where a scan is taken: the docket or the place chosen, as far as the phone knows it.

import { DOINGS } from "./scan-doings.js";

const EMPTY = { lines: [], loaded: [], arrived: [] };

export const openContext = (way, known) => {
  const { where } = DOINGS[way.doing];
  const base = { doing: way.doing, key: way.key, known, docket: null, place: null, name: "", asksState: false };
  if (where === "docket") return { ...base, ...onDocket(way, known) };
  if (where === "") return base;
  const found = known.places.get(way.id);
  const place = { ...found, id: way.id, parent: found?.within ?? null, last_press: known.said.last_press ?? null };
  return { ...base, place, name: found ? known.placeName(way.id) : "A place this phone has not heard of" };
};

const onDocket = (way, known) => {
  const full = known.said.docket?.id === way.id ? known.said.docket : null;
  const short = known.said.dockets.find((one) => one.id === way.id);
  if (!full && !short) {
    const docket = { id: way.id, ...EMPTY };
    return { docket, name: "A docket this phone has not heard of; it may be closed" };
  }
  const docket = { ...EMPTY, ...(full ?? short) };
  docket.to_yard = known.places.get(docket.to)?.kind === "yard";
  return { docket, name: known.docketName(docket), asksState: way.doing === "arrive" && docket.to_yard };
};
