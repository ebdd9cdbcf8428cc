// The queue of scans. A row is what happened, with the id made when it happened; it is kept until the server has
// answered for it by that id, and after that as long as a person must still look at it.
//
// State of a row: waiting, recorded, review, refused, undone (taken back before it was ever sent).

import { changed, reading, result, writing } from "./scan-store.js";

const RELEASE = 1; // of a row's shape; rows of an older shape are brought up to it when they are read
const KEPT_HOURS = 48;
const STATES = ["waiting", "recorded", "review", "refused", "undone"];

const between = (state) => IDBKeyRange.bound([state, -Infinity], [state, Infinity]);

const next = async (known) => {
  const seq = ((await result(known.get("seq"))) ?? 0) + 1;
  await result(known.put(seq, "seq"));
  return seq;
};

// Put one thing that happened into the queue, with its photos. Resolves when it is on the disk.
export const put = async ({ wire, photos = [], ...rest }) => {
  const id = crypto.randomUUID();
  const at = Date.now();
  const row = await writing(["scans", "photos", "known"], async (scans, kept, known) => {
    const names = photos.map(() => crypto.randomUUID());
    const seq = await next(known);
    const sent = { id, seq, happened: new Date(at).toISOString(), ...wire };
    if (names.length) sent.photos = names;
    const made = { release: RELEASE, id, at, state: "waiting", tried: false, wire: sent, ...rest };
    made.n = await result(scans.add(made));
    photos.forEach((blob, nth) => kept.add({ id: names[nth], scan: id, blob, at, who: rest.who }));
    return made;
  });
  changed();
  return row;
};

// Take the scan back: simply dropped if it was never sent, otherwise by a scan of its own that says so.
export const takeBack = async (id, who) => {
  const dropped = await writing(["scans", "photos"], async (scans, photos) => {
    const row = await result(scans.index("id").get(id));
    if (!row || row.tried || row.state !== "waiting") return false;
    await result(scans.put({ ...row, state: "undone" }));
    for (const name of await result(photos.index("scan").getAllKeys(id))) photos.delete(name);
    return true;
  });
  if (dropped) {
    changed();
    return null;
  }
  const row = await find(id);
  const wire = { what: "reversed", takes_back: id, seen: "typed" };
  return put({ wire, who, doing: "undo", where: row?.where ?? "", code: row?.code ?? "", type: row?.type ?? "" });
};

export const find = (id) => reading(["scans"], (scans) => result(scans.index("id").get(id)));

// The oldest that wait, marked as tried before they leave: from then on only a reversal takes them back.
export const nextToSend = (most) =>
  writing(["scans"], async (scans) => {
    const rows = await result(scans.index("state").getAll(between("waiting"), most));
    rows.filter((row) => !row.tried).forEach((row) => scans.put({ ...row, tried: true }));
    return rows;
  });

// What the server said about each: {id, answer, code, sentence}. Rows it did not name go on waiting.
export const settle = async (answers) => {
  const settled = await writing(["scans"], async (scans) => {
    const found = [];
    for (const said of answers) {
      const row = await result(scans.index("id").get(said.id));
      if (!row || row.state !== "waiting") continue;
      const state = stateAfter(said);
      const after = { ...row, state, answer: said, answered: Date.now(), open: state === "review" || state === "refused" };
      scans.put(after);
      found.push(after);
    }
    return found;
  });
  changed();
  return settled;
};

// What was had before stands as it was first answered.
const stateAfter = ({ answer, first }) =>
  ({ recorded: "recorded", "kept for review": "review", refused: "refused" })[answer === "already had" ? first : answer] ?? "recorded";

export const waiting = () =>
  reading(["scans"], async (scans) => {
    const index = scans.index("state");
    const count = await result(index.count(between("waiting")));
    if (!count) return { count, oldest: null, names: [] };
    const [first] = await result(index.getAll(between("waiting"), 1));
    return { count, oldest: first.at, first: first.who };
  });

// The scans of one way in ("load docket 5"), oldest first, without those taken back.
export const scansAt = (where) =>
  reading(["scans"], (scans) =>
    result(scans.index("where").getAll(IDBKeyRange.bound([where, -Infinity], [where, Infinity]))),
  );

// Those that a person must deal with, newest first.
export const needingAPerson = () =>
  reading(["scans"], async (scans) => {
    const found = [];
    for (const state of ["refused", "review"]) found.push(...(await result(scans.index("state").getAll(between(state)))));
    return found.filter((row) => row.open).sort((a, b) => b.n - a.n);
  });

// Those that wait for the yard manager: the phone asks what has become of them.
export const inReview = async () => (await needingAPerson()).filter((row) => row.state === "review").map((row) => row.id);

// Settled on the server: no longer for a person, and said so in the list.
export const settledBy = async (verdicts) => {
  const over = verdicts.filter((one) => !one.open);
  if (!over.length) return;
  await writing(["scans"], async (scans) => {
    for (const { id, how, by } of over) {
      const row = await result(scans.index("id").get(id));
      if (row) scans.put({ ...row, open: false, settled: [how, by].filter(Boolean).join(", by ") || "settled" });
    }
  });
  changed();
};

export const dealtWith = async (ids) => {
  await writing(["scans"], async (scans) => {
    for (const id of ids) {
      const row = await result(scans.index("id").get(id));
      if (row) scans.put({ ...row, open: false });
    }
  });
  changed();
};

// Answered scans of the day before yesterday are in the ledger; the phone need not keep them too.
export const forgetOld = (now = Date.now()) =>
  writing(["scans"], async (scans) => {
    for (const state of STATES.filter((word) => word !== "waiting")) {
      for (const row of await result(scans.index("state").getAll(between(state), 2000))) {
        if (!row.open && now - row.at > KEPT_HOURS * 3_600_000) scans.delete(row.n);
      }
    }
  });

export const photosWaiting = () => reading(["photos"], (photos) => result(photos.getAll(undefined, 5)));

export const photoCount = () => reading(["photos"], (photos) => result(photos.count()));

export const photoGone = async (id) => {
  await writing(["photos"], (photos) => result(photos.delete(id)));
  changed();
};
