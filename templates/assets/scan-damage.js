// What is wrong with one piece: a reason from the yard's list, how bad it is, and photos made small at once.

import { fill, make } from "./elements.js";
import { smaller } from "./scan-photo.js";

const GRADES = ["watch", "unfit"];

export class DamagePanel {
  // waiting: what is always in view, over this panel too
  constructor(dialog, reasons, waiting) {
    Object.assign(this, { dialog, waiting, home: waiting.parentElement });
    this.form = dialog.querySelector("form");
    this.photos = [];
    dialog.querySelector("[data-close]").addEventListener("click", () => dialog.close());
    this.field("reason").addEventListener("change", () => this.usual());
    this.field("photo").addEventListener("change", (event) => this.add([...event.target.files]));
    this.reasons = reasons;
  }

  field(name) {
    return this.form.elements[name];
  }

  usual() {
    const chosen = this.reasons().find((one) => one.words === this.field("reason").value);
    if (chosen) this.field("grade").value = GRADES.includes(chosen.usual_grade) ? chosen.usual_grade : "watch";
  }

  async add(files) {
    this.working = Promise.all(files.map(smaller)).then(
      (made) => this.photos.push(...made),
      () => this.say("That photo cannot be read. Take it again."),
    );
    await this.working;
    this.field("photo").value = "";
    this.say(this.photos.length ? `${this.photos.length} taken` : "");
  }

  say(words) {
    this.dialog.querySelector("[data-photos]").textContent = words;
  }

  // Resolves to what was said, or to null when it was closed.
  ask(title) {
    this.dialog.querySelector("h2").textContent = title;
    this.form.reset();
    this.photos = [];
    this.say("");
    fill(this.field("reason"), make("option", { value: "", text: "choose" }), this.reasons().map((one) => make("option", { value: one.words, text: one.words })));
    this.dialog.prepend(this.waiting);
    this.dialog.showModal();
    return new Promise((resolve) => {
      const finish = (said) => {
        this.form.onsubmit = this.dialog.onclose = null;
        if (this.dialog.open) this.dialog.close();
        this.home.prepend(this.waiting);
        resolve(said);
      };
      this.dialog.onclose = () => finish(null);
      this.form.onsubmit = async (event) => {
        event.preventDefault();
        await this.working;
        finish({ reason: this.field("reason").value, grade: this.field("grade").value, photos: this.photos });
      };
    });
  }
}
