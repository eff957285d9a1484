// The card of a chosen note: its mark and why, the marks to choose from, how its mark sounds.

import { byId, made } from "./elements.js";
import { slider } from "./sliders.js";

export class Card {
  constructor(told, score, actions) {
    Object.assign(this, { told, score, actions });
    this.panel = byId("note");
    this.note = null;
    byId("note-close").addEventListener("click", () => this.close());
  }

  choose(note, focus = false) {
    if (note === null) return;
    this.note = note;
    this.score.choose(note, focus);
    this.draw();
  }

  // After a change the same note is shown with what holds now.
  renew(told) {
    this.told = told;
    if (this.note === null) return;
    const pressed = this.panel.contains(document.activeElement)
      ? document.activeElement.dataset.mark : undefined;
    this.score.choose(this.note, false);
    this.draw();
    if (pressed !== undefined) this.panel.querySelector(`[data-mark="${pressed}"]`)?.focus();
  }

  draw() {
    const { facts } = this.told;
    const { name, place } = facts.notes[this.note];
    byId("note-heading").textContent = place.endsWith(name) ? place : `${place}, ${name}`;
    const shaped = facts.versions[facts.shown];
    byId("note-body").replaceChildren(
      made("p", shaped.why[this.note] ? `${shaped.why[this.note]}.` : "No rule marks this note."),
      this.marks(shaped.mark[this.note]),
      this.playing(),
      ...this.sound(shaped.mark[this.note]),
    );
    this.panel.hidden = false;
    this.panel.parentElement.classList.add("told");
  }

  marks(mark) {
    const own = this.told.own.includes(this.note);
    const row = made("div", undefined, { class: "buttons", role: "group", "aria-label": "Mark" });
    const names = [...this.told.marks.map(({ name, sound }) => [name, name, sound]),
      ["none", "no mark", "nothing in particular"]];
    for (const [key, words, title] of names) {
      const button = made("button", words, {
        type: "button", "data-mark": key, title,
        "aria-pressed": String((mark ?? "none") === key),
      });
      button.addEventListener("click", () => this.actions.set({ [`mark:${this.note}`]: key }));
      row.append(button);
    }
    const back = made("button", own ? "Give it back to the rules" : "The rules decide", {
      type: "button", class: "back", "data-mark": "rules",
    });
    back.disabled = !own;
    back.addEventListener("click", () => this.actions.set({ [`mark:${this.note}`]: null }));
    row.append(back);
    return row;
  }

  playing() {
    const row = made("div", undefined, { class: "buttons" });
    const from = made("button", "Play from here", { type: "button" });
    from.addEventListener("click", () => this.actions.playFrom(this.note));
    const both = made("button", "Hear it plain, then shaped", { type: "button" });
    both.addEventListener("click", () =>
      this.actions.example(this.told.facts.notes[this.note].example));
    row.append(from, both);
    return row;
  }

  // The sliders of the note's mark: they hold for every note that has it.
  sound(mark) {
    if (!mark) return [];
    const sliders = this.told.feel.filter((each) => each.mark === mark);
    return [
      made("h3", `Every ${mark} here`),
      ...sliders.map((each) => slider(each, (value) => this.actions.set({ [each.key]: value }))),
    ];
  }

  close() {
    const { note } = this;
    this.panel.hidden = true;
    this.panel.parentElement.classList.remove("told");
    this.note = null;
    this.score.choose(null);
    if (note !== null) this.score.spot(note)?.focus();
  }
}
