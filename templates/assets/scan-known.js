// What the phone knows: the last picture the server gave, kept for when there is no signal.

import { ask, Trouble } from "./scan-wire.js";
import { remember, remembered } from "./scan-store.js";

export class Known {
  constructor(said, asked, fresh) {
    Object.assign(this, { said, asked, fresh });
    this.places = new Map(said.places.map((place) => [place.id, place]));
    this.types = new Map(said.types.map((type) => [type.code, type]));
    this.pieces = new Map(said.pieces.map((piece) => [piece.id, piece]));
    this.tags = new Map(said.pieces.flatMap((piece) => piece.tags.map((code) => [code, piece])));
  }

  piece(code) {
    return this.tags.get(code) ?? null;
  }

  // The code on a setting-out sheet stands for its pour.
  placeTagged(code) {
    return this.said.places.find((place) => place.tags?.includes(code)) ?? null;
  }

  type(code) {
    return this.types.get(code) ?? null;
  }

  typeOf(piece) {
    return this.pieces.get(piece)?.type ?? "";
  }

  // What a queued scan is about, by what is known now: it may have been new to the phone when it was made.
  typeOfRow(row) {
    return this.type(row.type || this.piece(row.code)?.type);
  }

  keysOfRow(row) {
    const piece = this.piece(row.code);
    return piece && row.pieces?.[0] !== piece.id ? this.with(piece).map((one) => one.id) : (row.pieces ?? []);
  }

  // A crate speaks for what is listed in it.
  with(piece) {
    const listed = this.type(piece.type)?.kind === "crate" ? this.said.pieces.filter((one) => one.crate === piece.id) : [];
    return [piece, ...listed];
  }

  // What is lifted, in kg: of a crate, with all that is listed in it.
  mass(piece) {
    return this.with(piece).reduce((sum, one) => sum + Number(this.type(one.type)?.mass_kg ?? 0), 0);
  }

  placeName(id) {
    const place = this.places.get(id);
    if (!place) return "a place this phone does not know";
    return place.within ? `${this.placeName(place.within)}, ${place.name}` : place.name;
  }

  // How many pieces the record has at a place, its parts included.
  at(id) {
    const inside = (place) => place === id || this.places.get(place)?.within === id;
    return this.said.pieces.filter((piece) => inside(piece.place)).length;
  }

  docketName({ number, from, to }) {
    return `${number}: ${this.placeName(from)} to ${this.placeName(to)}`;
  }
}

const key = (way) => (way?.id ? `known ${way.what} ${way.id}` : "known");

// From the server, or the last picture of it; null when there never was one.
export const learn = async (url, way) => {
  const asked = Date.now();
  const query = way?.id ? `?${way.what}=${way.id}` : "";
  try {
    const said = await ask(`${url}${query}`);
    await remember(key(way), { said, asked });
    if (way?.id) await remember("known latest", { said, asked });
    return new Known(said, asked, true);
  } catch (error) {
    if (!(error instanceof Trouble) || error.word === "refused") throw error;
    return recall(way);
  }
};

export const recall = async (way) => {
  // The gear of the last docket or place is better than none.
  const kept = (await remembered(key(way))) ?? (await remembered("known latest")) ?? (await remembered("known"));
  return kept ? new Known(kept.said, kept.asked, false) : null;
};
