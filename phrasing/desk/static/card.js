// The card of a chosen note: its mark and why, the marks to choose from, how its mark sounds.

import { byId, made } from "./elements.js";
import { aloneSlider, slider } from "./sliders.js";

export class Card {
  constructor(told, score, actions) {
    Object.assign(this, { told, score, actions });
    this.panel = byId("note");
    this.note = null;
    this.drawing = null;
    byId("note-close").addEventListener("click", () => this.close());
  }

  choose(note, focus = false) {
    if (note === null) return;
    const { drawing } = this;
    if (drawing && note > drawing.first) this.drawLine(drawing.kind, drawing.first, note, true);
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
      this.lines(),
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
    back.addEventListener("click", () => this.actions.set(this.givenBack()));
    row.append(back);
    return row;
  }

  // Its mark, and what is wanted of its sound.
  givenBack() {
    const { note, told } = this;
    const sounds = ["level", "gate"].filter((what) => note in told.alone[what].own);
    return Object.fromEntries(["mark", ...sounds].map((what) => [`${what}:${note}`, null]));
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

  // Lines from this note on: the last note of one is the next that is chosen.
  lines() {
    const row = made("div", undefined, { class: "buttons", role: "group", "aria-label": "Lines" });
    for (const [kind, words] of [["slur", "Slur from here"], ["softer", "Softer from here"]]) {
      const button = made("button", `${words} …`, {
        type: "button", "aria-pressed": String(this.drawing?.kind === kind),
      });
      button.addEventListener("click", () => this.begin(kind));
      row.append(button);
    }
    const ends = this.told.lines.some(({ kind, first }) => kind === "end" && first === this.note);
    if (!ends) {
      const end = made("button", "The phrase ends here", { type: "button" });
      end.addEventListener("click", () => this.drawLine("end", this.note, this.note, true));
      row.append(end);
    }
    for (const line of this.told.lines) {
      if (line.first <= this.note && this.note <= line.last) row.append(this.rubber(line));
    }
    return row;
  }

  begin(kind) {
    this.drawing = { kind, first: this.note };
    this.actions.say("Now choose the last note of the line.");
    this.draw();
  }

  drawLine(kind, first, last, on) {
    this.drawing = null;
    this.actions.set({ [`line:${kind}:${first}:${last}`]: on || null });
  }

  rubber({ kind, first, last }) {
    const names = { slur: "the slur", softer: "the decrescendo", end: "the phrase’s end" };
    const button = made("button", `Take away ${names[kind]}`, { type: "button", class: "back" });
    button.addEventListener("click", () => this.drawLine(kind, first, last, false));
    return button;
  }

  // The sliders of this note alone, then those of its mark, which hold for every note with it.
  sound(mark) {
    const alone = ["level", "gate"].map((what) => aloneSlider(this.told, this.note, what));
    const own = [made("h3", "This note alone"), ...alone.map((each) =>
      slider(each, (value) => this.actions.set({ [each.key]: value })))];
    if (!mark) return own;
    const sliders = this.told.feel.filter((each) => each.mark === mark);
    return [
      ...own,
      made("h3", `Every ${mark} here`),
      ...sliders.map((each) => slider(each, (value) => this.actions.set({ [each.key]: value }))),
    ];
  }

  close() {
    const { note } = this;
    this.drawing = null;
    this.panel.hidden = true;
    this.panel.parentElement.classList.remove("told");
    this.note = null;
    this.score.choose(null);
    if (note !== null) this.score.spot(note)?.focus();
  }
}
