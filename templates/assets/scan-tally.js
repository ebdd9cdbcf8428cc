// The running count against a docket: what the server last knew, and what this phone has scanned since.
// Pure. A piece is in a set, so that it counts once, whichever of the two tells of it first.

// The scans that the server's picture cannot hold: unanswered, or answered after the picture was asked for.
const since = (rows, asked) => rows.filter((row) => !row.answered || row.answered >= asked);

const counts = (row) => !["undone", "refused"].includes(row.state) && row.doing !== "undo" && row.doing !== "damage";

// {on: Set of piece keys, got: {type: number}} of the docket after the phone's own rows, oldest first.
export const counted = ({ docket, doing, known }, rows) => {
  const word = doing === "load" ? "loaded" : "arrived";
  const on = new Set(docket[word]);
  const got = Object.fromEntries(docket.lines.map((line) => [line.type, line[word]]));
  const move = (row, by) => {
    const pieces = known.keysOfRow(row);
    for (const piece of pieces) {
      if (on.has(piece) === by > 0) continue;
      if (by > 0) on.add(piece);
      else on.delete(piece);
      const type = known.typeOf(piece) || row.type || "?";
      got[type] = (got[type] ?? 0) + by;
    }
    if (!pieces.length && row.wire.type) got[row.wire.type] = Math.max(0, (got[row.wire.type] ?? 0) + by);
  };
  for (const row of since(rows, known.asked)) {
    if (row.doing === "undo" && row.state !== "refused") {
      const target = rows.find((other) => other.id === row.wire.takes_back);
      if (target) move(target, -1);
    } else if (counts(row)) move(row, 1);
  }
  return { on, got };
};

// Lines of one docket by type, in its order: what there should be, what there is, what is missing.
export const lines = (docket, way, got) => {
  const should = Object.fromEntries(docket.lines.map((line) => [line.type, way === "load" ? line.wanted : line.loaded]));
  const listed = docket.lines.map((line) => line.type);
  return [...new Set([...listed, ...Object.keys(got).sort()])].map((type) => {
    const wanted = should[type] ?? 0;
    const have = got[type] ?? 0;
    return { type, wanted, got: have, missing: Math.max(0, wanted - have) };
  });
};

export const total = (some, name) => some.reduce((sum, line) => sum + line[name], 0);
