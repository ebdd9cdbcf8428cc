// Emptying the queue: in order, in batches, from one tab at a time, whenever the server can be reached.
//
// Nothing leaves the queue but what an answer names by its id. A batch that was stored while its answer was lost is
// sent again word for word, and the server says that it had it already.

import { inReview, nextToSend, photoGone, photosWaiting, settle, settledBy } from "./scan-queue.js";
import { ask, post, postPhoto, Trouble } from "./scan-wire.js";
import { remember, remembered } from "./scan-store.js";

const BATCH = 200;
const VERSION = 1;
const SOONEST = 1000;
const LATEST = 60_000;
const ASK_AGAIN = 60_000; // after so long, what has become of the scans kept for review
const MOST_ASKED = 100;
const LONG_ASKING = 10_000; // half of it is the most by which the measure of the server's clock may be wrong

const device = async () => {
  const known = await remembered("device");
  if (known) return known;
  const made = `phone-${crypto.randomUUID().slice(0, 18)}`;
  await remember("device", made);
  return made;
};

export class Drain {
  // told({state, sentence, me}) whenever something is learnt: "sending", "idle", "unreachable", "signed-out", "refused"
  constructor(urls, told, answered) {
    Object.assign(this, { urls, told, answered, wait: SOONEST, timer: null, reached: 0, token: "", ahead: null });
  }

  start() {
    const kick = () => {
      this.wait = SOONEST; // something has changed: what was waited for before says nothing now
      return this.kick();
    };
    window.addEventListener("online", kick);
    window.addEventListener("pageshow", kick);
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && kick());
    return kick();
  }

  // Whether the server answered just now, so that a question put to it will be answered before the hand acts.
  get inReach() {
    return Date.now() - this.reached < 15_000;
  }

  kick() {
    clearTimeout(this.timer);
    this.timer = null;
    return navigator.locks.request("pourback-drain", { ifAvailable: true }, (lock) => (lock ? this.run() : this.later()));
  }

  async run() {
    try {
      await this.greet();
      while (await this.sendSome());
      while (await this.sendPhotos());
      await this.askAfter();
      this.wait = SOONEST;
      this.told({ state: "idle" });
    } catch (error) {
      const trouble = error instanceof Trouble ? error : new Trouble("unreachable", String(error));
      this.told({ state: trouble.word, sentence: trouble.sentence });
      this.wait = Math.min(LATEST, this.wait * 2);
      this.later();
    }
  }

  later() {
    this.timer ??= setTimeout(() => this.kick(), this.wait);
  }

  // Who is signed in, and a form token that is good now: signing in changes both under an open page.
  async greet() {
    const asked = Date.now();
    const me = await ask(this.urls.me);
    this.token = me.form_token;
    this.reached = Date.now();
    // How far this phone's clock is ahead of the server's: a delivery may be long on its way, and says less.
    this.ahead = this.reached - asked <= LONG_ASKING ? (asked + this.reached) / 2 - Date.parse(me.now) : null;
    await remember("me", { ...me.person, roles: me.roles });
    this.told({ state: "sending", me: { ...me.person, roles: me.roles } });
  }

  async sendSome() {
    const rows = await nextToSend(BATCH);
    if (!rows.length) return false;
    const batch = { version: VERSION, device: await device(), ...this.clocks(), scans: rows.map((row) => row.wire) };
    const said = await post(this.urls.scans, batch, this.token);
    this.reached = Date.now();
    const settled = await settle(said.answers);
    this.answered(settled, said.clock);
    if (!settled.length) throw new Trouble("unreachable");
    this.wait = SOONEST; // some got through: the next trouble is a new one
    return true;
  }

  // The two clocks at this moment.
  clocks() {
    const now = Date.now();
    const said = { now: new Date(now).toISOString() };
    return this.ahead === null ? said : { ...said, server_now: new Date(now - this.ahead).toISOString() };
  }

  // What waits for the yard manager is shown until it is settled, so somebody must tell this phone.
  async askAfter() {
    clearTimeout(this.asking);
    const ids = await inReview();
    if (!ids.length) return;
    for (let first = 0; first < ids.length; first += MOST_ASKED) {
      const query = new URLSearchParams(ids.slice(first, first + MOST_ASKED).map((id) => ["scan", id]));
      await settledBy((await ask(`${this.urls.reviews}?${query}`)).reviews);
    }
    this.asking = setTimeout(() => document.visibilityState === "visible" && this.kick(), ASK_AGAIN);
  }

  async sendPhotos() {
    const photos = await photosWaiting();
    for (const photo of photos) {
      try {
        await postPhoto(this.urls.photo.replace("SCAN", photo.scan).replace("PHOTO", photo.id), photo.blob, this.token);
      } catch (error) {
        if (!(error instanceof Trouble) || error.word !== "refused") throw error;
        this.told({ state: "sending", photo: error.sentence });
      }
      await photoGone(photo.id);
    }
    return photos.length > 0;
  }
}
