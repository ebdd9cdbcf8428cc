// The scan page: what, where, then scan after scan. This file only joins the parts: each has a file of its own.

import { Camera, cameraTrouble } from "./scan-camera.js";
import * as choose from "./scan-choose.js";
import { openContext } from "./scan-context.js";
import { DamagePanel } from "./scan-damage.js";
import { DOINGS, address, wayIn } from "./scan-doings.js";
import { Drain } from "./scan-drain.js";
import { feel } from "./scan-feel.js";
import { learn, recall } from "./scan-known.js";
import { dealtWith, forgetOld, needingAPerson, photoCount, scansAt, takeBack, waiting } from "./scan-queue.js";
import * as show from "./scan-show.js";
import { onChange, remembered } from "./scan-store.js";
import { spaced } from "./scan-code.js";
import * as taking from "./scan-take.js";
import { listen } from "./scan-typed.js";
import { ask } from "./scan-wire.js";
import { fill, make } from "./elements.js";
import { wrongSoFar } from "./tagcode.js";

const root = document.getElementById("scanner");
const part = (id) => document.getElementById(id);
const data = root.dataset;
const urls = { scans: data.scans, me: data.me, photo: data.photo, known: data.known, reviews: data.reviews };
const now = { way: null, known: null, context: null, me: null, status: { state: "idle" }, camera: null, busy: Promise.resolve(), ready: null, shown: null };

const context = () => {
  const inReach = now.status.state !== "unreachable" && drain.inReach;
  return { ...now.context, me: now.me, inReach, dirty: part("scanner-state").elements.state.value !== "clean" };
};

// One reading after another, in the order they came, none dropped.
const inTurn = (work) => (now.busy = now.busy.then(work).catch((error) => present(taking.stop(storageTrouble(error)))));

const storageTrouble = (error) =>
  error?.name === "QuotaExceededError"
    ? "This phone’s storage is full, so the scan was not kept. Free some space, then scan it again."
    : `It could not be kept on this phone (${error?.message ?? error}). Scan it again.`;

const give = (text, seen) => inTurn(async () => {
  await now.met;
  // Which press is taken back must be asked for, not remembered.
  if (!now.context || now.context.doing === "not-in") await now.ready;
  if (!now.context) return present(taking.stop("This phone has not heard of this docket or place yet. It needs signal once."));
  const one = await taking.take(context(), text, seen);
  if (one.pour) return offerWhole(one.pour);
  present(one);
  if (one.damage) await askDamage(one);
});

const giveUntagged = async (type) => {
  if (now.context.doing === "damage") return askDamage({ code: "", type, piece: null });
  present(await taking.takeUntagged(context(), type));
};

const present = (one) => {
  feel(one.tone);
  draws(one);
  if (one.row?.state === "waiting") drain.kick();
  refresh();
};

const draws = (one) => {
  now.shown = one;
  const presses = [];
  const mayBeDamaged = one.row && (one.code || one.type) && now.context?.doing !== "damage" && one.row.doing !== "damage";
  if (mayBeDamaged) presses.push(make("button", { type: "button", className: "press-quiet", onclick: () => inTurn(() => askDamage(one)), text: "Damaged" }));
  if (one.unfit && now.me?.roles?.includes("manager")) presses.push(overrideForm(one));
  if (one.page) presses.push(make("a", { className: "press press-quiet", href: `/T/${one.code}`, text: "Its page" }));
  const mass = one.piece ? now.known?.mass(one.piece) : 0;
  show.showLast(part("last"), { ...one, mass }, Number(data.lift), ...presses);
};

// A tag that was new to the phone is named as soon as the server's picture names it.
const nameShown = () => {
  const piece = now.shown?.row && !now.shown.piece && now.known.piece(now.shown.code);
  if (piece) draws({ ...now.shown, piece, type: now.known.type(piece.type), sentence: now.shown.sentence === taking.UNKNOWN ? taking.listed(now.known.with(piece)) : now.shown.sentence });
};

const overrideForm = (one) => {
  const reason = make("input", { id: "override", required: true, maxlength: "200" });
  const form = make("form", {}, make("label", { for: "override", text: "Your reason for sending unfit gear; it stays on the record" }), reason,
    make("button", { className: "press-stop", text: "Send it all the same" }));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    inTurn(async () => present(await taking.take(context(), one.code, "typed", reason.value.trim())));
  });
  return form;
};

const askDamage = async (one) => {
  const said = await damage.ask(`${one.type?.name ?? "This piece"}${one.code ? `, ${spaced(one.code)}` : ""}`);
  if (said) present(await taking.takeDamage(context(), one, said));
};

const offerWhole = (pour) => {
  const presses = choose.wholePresses(now.context, pour).map(({ label, said }) =>
    make("button", { type: "button", onclick: () => inTurn(async () => present(await taking.takeWhole(context(), pour, said))), text: label }));
  feel("look");
  const gear = now.known.said.pieces.filter((piece) => piece.pour === pour.id).length;
  const sentence = presses.length ? `${gear} pieces are recorded in it.` : "Nothing is done to a whole pour here. Choose set, strip or clean first.";
  show.showLast(part("last"), { tone: "look", head: now.known.placeName(pour.id), sentence }, 0, ...presses);
};

// The parts that follow the store, redrawn at most once at a time.
let drawing = null;
let drawAgain = false;
const refresh = () => {
  if (drawing) return (drawAgain = true);
  drawing = draw().catch(() => {}).finally(() => {
    drawing = null;
    if (drawAgain) {
      drawAgain = false;
      refresh();
    }
  });
  return drawing;
};

// The list is read before the queue: what stands in the list is then waiting or sent, never not yet counted.
const draw = async () => {
  const at = now.context;
  const rows = at ? await scansAt(at.key) : [];
  const [queued, photos, open] = await Promise.all([waiting(), photoCount(), needingAPerson()]);
  show.showWaiting(part("waiting"), queued, photos, now.status, now.me, data.signIn);
  show.showOpen(part("open"), open, now.known, (ids) => dealtWith(ids));
  if (!at || at !== now.context) return;
  show.showTally(part("tally"), now.context, rows);
  show.showKnown(part("knows-sum"), part("knows-more"), now.known);
  show.showList(part("taken"), rows, now.known);
  part("taken-head").hidden = rows.length === 0;
  showUndo(rows);
};

const showUndo = (rows) => {
  const undone = new Set(rows.filter((row) => row.doing === "undo").map((row) => row.wire.takes_back));
  const last = rows.filter((row) => row.doing !== "undo" && !["undone", "refused"].includes(row.state) && !undone.has(row.id)).at(-1);
  const button = part("undo");
  button.hidden = !last;
  if (!last) return;
  button.textContent = `Undo: ${now.known?.typeOfRow(last)?.name ?? ""} ${spaced(last.code) || "without a tag"}`.replace("  ", " ");
  button.onclick = () => inTurn(async () => {
    await takeBack(last.id, now.me);
    present({ tone: "look", head: "Taken back", sentence: "Both stay in the history.", code: last.code, type: now.known?.typeOfRow(last) });
    drain.kick();
  });
};

const answered = (rows, clock) => {
  const worst = rows.find((row) => row.answer.loud) ?? rows.find((row) => row.state === "refused") ?? rows.find((row) => row.state === "review");
  part("clock").hidden = !clock?.is_off;
  part("clock").textContent = clock?.is_off ? `${clock.sentence} It is ${Math.round(Math.abs(clock.off_seconds) / 60)} minutes ${clock.off_seconds > 0 ? "fast" : "slow"}.` : "";
  if (worst) interrupt(worst);
  learnSoon();
};

// What was refused, or can hurt somebody, comes before whatever was scanned since; what is kept for review does not.
const interrupt = (row) => {
  const { answer } = row;
  const shown = now.shown?.row?.id === row.id ? now.shown : null;
  const about = shown ?? { code: row.code, type: now.known?.typeOfRow(row), piece: now.known?.piece(row.code) };
  if (answer.loud) present({ ...about, tone: "stop", head: "Stop: unfit", sentence: answer.sentence });
  else if (row.state === "refused") present({ ...about, tone: "stop", head: "Refused", sentence: answer.sentence, row: null, unfit: answer.code === "unfit-refused" });
  else if (shown) present({ ...shown, tone: shown.tone === "stop" ? "stop" : "look", sentence: `Kept for review: ${answer.sentence}` });
};

// The server's picture again, but not after every scan of two hundred.
let learning = null;
const learnSoon = () => (learning ??= setTimeout(() => {
  learning = null;
  if (now.status.state === "idle") learnNow();
  else learnSoon();
}, 4000));

const learnNow = async () => {
  const way = now.way;
  const known = await learn(urls.known, choose.asWhere(way)).catch(() => null);
  if (!known || way !== now.way) return;
  now.known = known;
  if (now.way?.id || DOINGS[now.way?.doing]?.where === "") now.context = openContext(now.way, known);
  drawWay();
  nameShown();
  refresh();
};

const drain = new Drain(urls, (status) => {
  if (status.me) now.me = status.me;
  if (status.photo) present(taking.stop(`A photo was not taken by the server: ${status.photo}`));
  now.status = status;
  refresh();
}, answered);

const damage = new DamagePanel(part("damage"), () => now.known?.said.reasons ?? [], part("waiting"));

// Which of the three steps the address names, drawn from what is known.
const drawWay = () => {
  const { way, known } = now;
  const doing = way && DOINGS[way.doing];
  const scanning = Boolean(doing && (way.id || !doing.where));
  part("choosing").hidden = scanning;
  part("scanning").hidden = !scanning;
  document.querySelector("h1").textContent = doing ? doing.label : "What are you doing?";
  if (!scanning) return drawChoice(way, doing, known);
  fill(part("here"), now.context?.name ?? "", make("a", { href: doing.where ? address(way.doing) : "?", "data-step": true, text: "Change" }));
  part("scanner-state").hidden = !now.context?.asksState;
  choose.untaggedTypes(part("untagged"), now.context);
  part("goods").hidden = now.context?.doing !== "count";
  choose.goodsTypes(part("goods-type"), now.context);
  choose.docketWays(part("docket-ways"), way);
};

const drawChoice = (way, doing, known) => {
  camera(false);
  const ways = !doing ? choose.doings(data.slab) : known ? choose.places(way.doing, known) : [];
  part("question").textContent = !doing ? "" : ways.length ? choose.QUESTIONS[doing.where] : known ? (doing.nothing ?? choose.NOTHING[doing.where]) : "This phone knows nothing yet. It needs signal once.";
  part("elsewhere").hidden = !doing;
  fill(part("ways"), ways);
};

const route = () => (now.ready = follow());

const follow = async () => {
  now.way = wayIn(location.search);
  now.context = null;
  part("last").hidden = true;
  now.known = await recall(choose.asWhere(now.way)).catch(() => null);
  if (now.way && now.known) now.context = openContext(now.way, now.known);
  drawWay();
  refresh();
  await learnNow();
  openEyes();
};

// A phone opens its camera by itself; at a desk the field waits for a scanner that types.
const openEyes = () => {
  if (!now.context || now.camera) return;
  if (matchMedia("(pointer: coarse)").matches) camera(true);
  else part("code").focus({ preventScroll: true });
};

const camera = async (on) => {
  now.camera?.stop();
  now.camera = null;
  if (on) {
    const trouble = cameraTrouble(data.wasm) || (await openCamera());
    part("no-camera").textContent = trouble;
    part("no-camera").hidden = !trouble;
  }
  const running = Boolean(now.camera);
  part("view").classList.toggle("view-on", running);
  part("camera").textContent = running ? "Close" : "Open the camera";
  part("camera").setAttribute("aria-label", running ? "Close the camera" : "Open the camera");
  part("torch").hidden = !now.camera?.hasTorch;
  part("torch").setAttribute("aria-pressed", "false");
};

const openCamera = async () => {
  const made = new Camera(part("video"), data.wasm, (text) => give(text, "scanned"));
  const trouble = await made.start();
  if (!trouble) now.camera = made;
  return trouble;
};

const listenToPage = () => {
  listen(part("typing"), part("code"), (text, seen) => {
    const trouble = taking.troubleWith(text);
    part("code-trouble").textContent = trouble;
    if (trouble) feel("stop");
    else give(text, seen);
    return !trouble;
  }, (text) => (part("code-trouble").textContent = wrongSoFar(text)));
  part("camera").addEventListener("click", () => camera(!now.camera));
  part("torch").addEventListener("click", async () => {
    const on = part("torch").getAttribute("aria-pressed") !== "true";
    await now.camera?.torch(on);
    part("torch").setAttribute("aria-pressed", String(on));
  });
  part("untagged").addEventListener("submit", (event) => {
    event.preventDefault();
    const type = now.known?.type(part("untagged-type").value);
    if (type) inTurn(() => giveUntagged(type));
  });
  part("goods").addEventListener("submit", (event) => {
    event.preventDefault();
    const [type, many] = [now.known?.type(part("goods-type").value), part("goods-many").valueAsNumber];
    if (!type || !Number.isInteger(many)) return;
    event.target.reset();
    inTurn(async () => present(await taking.takeGoods(context(), type, many)));
  });
  root.addEventListener("click", (event) => {
    const step = event.target.closest("a[data-step]");
    if (!step || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
    history.pushState(null, "", step.getAttribute("href") === "?" ? location.pathname : step.href);
    route();
  });
  window.addEventListener("popstate", route);
  window.addEventListener("pagehide", () => now.camera?.stop());
};

const keepChoice = (chosen) => {
  const choice = part("scanner-state");
  const keep = () => localStorage.setItem("pourback-state", choice.elements.state.value);
  choice.elements.state.value = chosen ?? localStorage.getItem("pourback-state") ?? "dirty";
  if (chosen) keep();
  choice.addEventListener("change", keep);
};

// The plain form goes. What was begun in it while this script was on its way goes on here: keys are caught everywhere.
const takeOver = () => {
  const plain = part("plain");
  const state = plain.querySelector("[name=state]:checked");
  part("code").value = plain.querySelector("#plain-code")?.value ?? "";
  plain.remove();
  root.hidden = false;
  keepChoice(state && !state.defaultChecked ? state.value : null);
  listenToPage();
};

// The page may come from the cache, and somebody else may have signed in since: ask, but not for long.
const meet = () =>
  Promise.race([
    ask(urls.me).then(({ person, roles }) => (now.me = { ...person, roles }), () => {}),
    new Promise((resolve) => setTimeout(resolve, 1500)),
  ]);

const begin = async () => {
  now.met = meet();
  now.me ??= (await remembered("me")) ?? { id: Number(data.person), name: data.name, roles: [] };
  takeOver();
  onChange(refresh);
  setInterval(refresh, 20_000);
  navigator.serviceWorker?.register(data.worker).catch(() => {});
  navigator.storage?.persist?.().catch(() => {});
  drain.start();
  await route();
  forgetOld();
};

// Without a place to keep scans, or the means to make ids and locks, the plain form below goes on working.
if (window.indexedDB && window.crypto?.randomUUID && navigator.locks) begin();
else if (!window.isSecureContext) part("insecure").hidden = false;
