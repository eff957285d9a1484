// The rules, each on or off, with how many notes it shapes here and where they are.

import { byId, made } from "./elements.js";

const inWords = (name) => name.replaceAll("-", " ").replace(/\b(on|off) beat/g, "$1-beat");

export class Rules {
  constructor(score, set) {
    Object.assign(this, { score, set });
    this.list = byId("rules-list");
    this.lit = null;
  }

  show(rules) {
    this.rules = rules;
    this.list.replaceChildren(...rules.map((rule) => this.row(rule)));
    this.light(rules.some(({ name }) => name === this.lit) ? this.lit : null);
  }

  row({ name, plays, notes }) {
    const row = made("li");
    const label = made("label");
    const box = made("input", undefined, { type: "checkbox" });
    box.checked = plays;
    box.addEventListener("change", () => this.set({ [`rule:${name}`]: box.checked ? null : false }));
    label.append(box, ` ${inWords(name)}`);
    const count = notes.length === 1 ? "one note" : `${notes.length} notes`;
    const show = made("button", notes.length ? `Show ${count}` : "no notes here", {
      type: "button", "data-light": name, "aria-pressed": "false",
    });
    show.disabled = notes.length === 0;
    show.addEventListener("click", () => this.light(this.lit === name ? null : name, true));
    row.append(label, show);
    return row;
  }

  light(name, go = false) {
    this.lit = name;
    const notes = this.rules.find((rule) => rule.name === name)?.notes ?? [];
    this.score.lightNotes(notes);
    if (go && notes.length) this.score.scrollTo(notes[0]);
    for (const button of this.list.querySelectorAll("[data-light]")) {
      button.setAttribute("aria-pressed", String(button.dataset.light === name));
    }
  }
}
