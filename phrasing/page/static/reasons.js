// Why a note is played as it is: its mark, its reason, its rule's other notes, its numbers.

import { byId, made } from "./elements.js";

const signed = (level) =>
  `${level > 0 ? "+" : level < 0 ? "−" : ""}${Math.abs(level).toFixed(1)} dB`;

function grouped(things, key) {
  const groups = new Map();
  for (const thing of things) {
    groups.set(key(thing), [...groups.get(key(thing)) ?? [], thing]);
  }
  return groups;
}

export class Reasons {
  constructor(facts, score, actions) {
    Object.assign(this, { facts, score, actions });
    this.panel = byId("note");
    this.heading = byId("note-heading");
    this.body = byId("note-body");
    this.note = null;
    byId("note-close").addEventListener("click", () => this.close());
    for (const button of document.querySelectorAll("button[data-note]")) {
      button.addEventListener("click", () => this.choose(Number(button.dataset.note), true));
    }
    for (const button of document.querySelectorAll("button[data-light]")) {
      button.addEventListener("click", () => this.showRule(Number(button.dataset.light)));
    }
    for (const button of document.querySelectorAll("button[data-rule]")) {
      button.addEventListener("click", () => this.hearRule(Number(button.dataset.rule)));
    }
  }

  choose(note, focus = false) {
    if (note === null) return;
    this.note = note;
    this.score.choose(note, focus);
    const { name, place } = this.facts.notes[note];
    this.heading.textContent = place.endsWith(name) ? place : `${place}, ${name}`;
    const rules = this.rulesOf(note);
    this.body.replaceChildren(
      ...this.sentences(note, rules), this.numbers(note), this.buttons(note, rules));
    this.panel.hidden = false;
    this.panel.parentElement.classList.add("told");
    this.light(rules.find((rule) => this.tells(rule)) ?? null);
  }

  close() {
    this.panel.hidden = true;
    this.panel.parentElement.classList.remove("told");
    const { note } = this;
    this.note = null;
    this.score.choose(null);
    this.light(null);
    if (note !== null) this.score.spot(note)?.focus();
  }

  // Whether lighting up a rule's notes tells anything: not where nearly all of them are its.
  tells(rule) {
    return this.facts.rules[rule].notes.length <= this.facts.notes.length / 2;
  }

  rulesOf(note) {
    const numbers = this.facts.rules.map((rule, number) => (rule.notes.includes(note) ? number : -1));
    return numbers.filter((number) => number >= 0);
  }

  // Each sentence once, with the versions that it holds for where they do not agree.
  sentences(note, rules) {
    const shaped = this.facts.versions.filter((version) => version.shaped);
    const said = grouped(shaped, (version) => version.why[note]);
    const own = [...said].filter(([why]) => why !== null).map(([why, versions]) => {
      const names = versions.map(({ name }) => name).join(", ");
      return made("p", `${said.size > 1 ? `${names}: ` : ""}${why}.`);
    });
    const line = rules.map((rule) => this.facts.rules[rule]).filter(({ effect }) => effect);
    const over = line.map(({ name, effect }) => made("p", `${name}: ${effect}.`));
    const all = [...own, ...over];
    return all.length ? all : [made("p", "No rule marks this note.")];
  }

  numbers(note) {
    const table = made("table");
    const head = table.createTHead().insertRow();
    for (const word of ["version", "mark", "level", "sounds for"]) {
      head.append(made("th", word, { scope: "col" }));
    }
    const body = table.createTBody();
    for (const version of this.facts.versions) {
      const row = body.insertRow();
      const long = Math.round((version.release[note] - version.onset[note]) * 1000);
      row.append(made("th", version.name, { scope: "row" }));
      for (const text of [version.mark[note] ?? "–", signed(version.level[note]), `${long} ms`]) {
        row.insertCell().textContent = text;
      }
    }
    return table;
  }

  buttons(note, rules) {
    const row = made("div", undefined, { class: "buttons" });
    if (this.actions.ready()) row.append(...this.playing(note));
    for (const rule of rules) {
      const { name, notes } = this.facts.rules[rule];
      const button = made("button", `${name} (${notes.length})`, {
        type: "button", "data-light": rule, "aria-pressed": "false",
      });
      button.addEventListener("click", () => this.toggleRule(rule));
      row.append(button);
    }
    return row;
  }

  playing(note) {
    const from = made("button", "Play from here", { type: "button" });
    from.addEventListener("click", () => this.actions.playFrom(note));
    const both = made("button", "Hear it", {
      type: "button", class: "example", "aria-label": "Hear it plain, then shaped",
    });
    both.addEventListener("click", () => this.actions.example(this.facts.notes[note].example));
    return [from, both];
  }

  toggleRule(rule) {
    this.light(this.lit === rule ? null : rule);
  }

  // Lights up a rule's notes and goes to the first of them; pressed again, puts them out.
  showRule(rule) {
    this.toggleRule(rule);
    const { name, notes } = this.facts.rules[rule];
    if (this.lit === null) return this.actions.say(`The notes of “${name}” are no longer shown.`);
    this.score.scrollTo(notes[0]);
    const count = notes.length === 1 ? "One note" : `${notes.length} notes`;
    const first = this.facts.notes[notes[0]].place;
    return this.actions.say(`${count} of “${name}”, the first in ${first}.`);
  }

  // The rule's first instance, plain and then shaped, with its notes in sight.
  hearRule(rule) {
    this.light(rule);
    this.score.scrollTo(this.facts.rules[rule].notes[0]);
    this.actions.example(this.facts.rules[rule].first);
  }

  light(rule) {
    this.lit = rule;
    this.score.lightNotes(rule === null ? [] : this.facts.rules[rule].notes);
    for (const button of document.querySelectorAll("[data-light]")) {
      button.setAttribute("aria-pressed", String(Number(button.dataset.light) === rule));
    }
  }
}
