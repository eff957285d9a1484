// The notes on the page: the marks and blocks of the version that is heard, what sounds lights
// up, what is tapped is chosen, bars are tapped or dragged to be looped.

import { byId } from "./elements.js";

const DRAG = 8;         // pixels that make a tap a drag

export class Score {
  constructor(facts, follower, { chosen, looped }, root = byId("score")) {
    Object.assign(this, { facts, follower, chosen, looped, root });
    this.marked = this.grouped("[data-note]", "note");
    this.bars = this.grouped("[data-bar]", "bar");
    this.layers = this.grouped("[data-version]", "version");
    this.version = facts.shown;
    this.sounding = null;
    this.note = null;
    this.picking = null;                  // while bars to loop are tapped: the first of them
    this.makeButtons();
    this.listen();
  }

  // Every note is a button; of a layout's, one is reached by the tab key.
  makeButtons() {
    for (const spot of this.root.querySelectorAll(".spot")) {
      spot.setAttribute("role", "button");
      spot.setAttribute("tabindex", "-1");
      spot.setAttribute("aria-pressed", "false");
    }
    for (const layout of this.root.querySelectorAll(".layout")) {
      layout.querySelector(".spot")?.setAttribute("tabindex", "0");
    }
    this.nameNotes();
  }

  // Where each note is, what it is, and the mark that it has in this version.
  nameNotes() {
    const { mark } = this.facts.versions[this.version];
    for (const spot of this.root.querySelectorAll(".spot")) {
      const { note, tied } = spot.dataset;
      const words = [this.facts.notes[note].place];
      if (tied !== undefined) words.push("tied on");
      if (mark[note]) words.push(mark[note]);
      spot.setAttribute("aria-label", words.join(", "));
    }
  }

  grouped(selector, key) {
    const found = new Map();
    for (const element of this.root.querySelectorAll(selector)) {
      const number = Number(element.dataset[key]);
      if (!found.has(number)) found.set(number, []);
      found.get(number).push(element);
    }
    return found;
  }

  mark(notes, name, on) {
    for (const note of notes) {
      for (const element of this.marked.get(note) ?? []) element.classList.toggle(name, on);
    }
  }

  // The ink of a version: its marks and its blocks, and no others.
  show(version) {
    if (version === this.version) return;
    this.version = version;
    for (const [number, layers] of this.layers) {
      for (const layer of layers) layer.classList.toggle("off", number !== version);
    }
    this.root.classList.toggle("unshaped", !this.facts.versions[version].shaped);
    this.nameNotes();
  }

  // The note that is heard now, or null.
  light(note) {
    if (note === this.sounding) return;
    if (this.sounding !== null) this.mark([this.sounding], "sounding", false);
    this.sounding = note;
    if (note === null) return;
    this.mark([note], "sounding", true);
    this.follower.goTo(this.spot(note)?.closest("svg"));
  }

  // The spot of a note that can be seen.
  spot(note) {
    return (this.marked.get(note) ?? []).find((element) =>
      element.classList.contains("spot") && element.getClientRects().length > 0);
  }

  choose(note, focus) {
    if (this.note !== null) this.setPressed(this.note, false);
    this.note = note;
    if (note === null) return;
    this.setPressed(note, true);
    if (focus) this.spot(note)?.focus({ preventScroll: false });
  }

  setPressed(note, on) {
    this.mark([note], "chosen", on);
    for (const element of this.marked.get(note) ?? []) {
      if (!element.classList.contains("spot")) continue;
      element.setAttribute("aria-pressed", String(on));
      if (!on) continue;
      const layout = element.closest(".layout");
      layout.querySelector('.spot[tabindex="0"]')?.setAttribute("tabindex", "-1");
      element.setAttribute("tabindex", "0");
    }
  }

  lightNotes(notes) {
    this.mark(this.lit ?? [], "lit", false);
    this.lit = notes;
    this.mark(notes, "lit", true);
  }

  // Only the lines that hold some of these bars.
  showBars(first, last) {
    for (const system of this.root.querySelectorAll("svg.system")) {
      const bars = [...system.querySelectorAll(".bar")].map(({ dataset }) => Number(dataset.bar));
      system.classList.toggle("off", !bars.some((bar) => bar >= first && bar <= last));
    }
  }

  scrollTo(note) {
    const system = this.spot(note)?.closest("svg");
    if (system) this.follower.show(system);
  }

  showLoop({ on, first, last }) {
    for (const [bar, elements] of this.bars) {
      const inside = on && bar >= first && bar <= last;
      for (const element of elements) element.classList.toggle("looped", inside);
    }
  }

  // Loops by tapping: the first bar, then the last.

  startPicking() {
    this.picking = { first: null };
    this.root.classList.add("picking");
  }

  stopPicking() {
    this.picking = null;
    this.root.classList.remove("picking");
  }

  pick(bar) {
    if (bar === null) return;
    const { first } = this.picking;
    if (first === null) {
      this.picking.first = bar;
      this.looped(bar, bar, false);
    } else {
      this.stopPicking();
      this.looped(Math.min(first, bar), Math.max(first, bar), true);
    }
  }

  // Pointers

  listen() {
    // A tap leaves the keyboard to the page, so that space still plays.
    this.root.addEventListener("mousedown", (event) => {
      if (!event.target.closest("svg.system")) return;
      event.preventDefault();
      document.activeElement?.blur();
    });
    this.root.addEventListener("pointerdown", (event) => this.touch(event));
    this.root.addEventListener("pointermove", (event) => this.move(event));
    this.root.addEventListener("pointerup", (event) => this.release(event));
    this.root.addEventListener("pointercancel", () => { this.drag = null; });
    this.root.addEventListener("keydown", (event) => this.press(event));
  }

  press(event) {
    const spot = event.target.closest?.(".spot");
    if (!spot || (event.key !== "Enter" && event.key !== " ")) return;
    event.preventDefault();
    event.stopPropagation();
    this.takeNote(Number(spot.dataset.note));
  }

  takeNote(note) {
    if (this.picking) this.pick(this.facts.notes[note].bar);
    else this.chosen(note);
  }

  touch(event) {
    const system = event.target.closest?.("svg.system");
    if (!system || event.button !== 0) return;
    this.drag = { system, x: event.clientX, bar: this.barUnder(event), moved: false };
  }

  // A mouse or a pen drags over bars; a finger scrolls.
  move(event) {
    const { drag } = this;
    if (!drag || drag.bar === null || event.pointerType === "touch") return;
    if (!drag.moved && Math.abs(event.clientX - drag.x) < DRAG) return;
    drag.moved = true;
    const bar = this.barUnder(event);
    if (bar === null) return;
    drag.first = Math.min(bar, drag.bar);
    drag.last = Math.max(bar, drag.bar);
    this.showLoop({ on: true, ...drag });
  }

  release(event) {
    const { drag } = this;
    this.drag = null;
    if (!drag) return;
    if (this.picking) this.pick(drag.bar);
    else if (drag.first !== undefined) this.looped(drag.first, drag.last, true);
    else this.takeNote(this.nearest(drag.system, event.clientX));
  }

  barUnder({ clientX, clientY }) {
    const under = document.elementsFromPoint(clientX, clientY);
    const bar = under.find((element) => element.classList.contains("bar"));
    return bar ? Number(bar.dataset.bar) : null;
  }

  nearest(system, x) {
    const away = (spot) => {
      const { left, right } = spot.getBoundingClientRect();
      return Math.abs((left + right) / 2 - x);
    };
    const spots = [...system.querySelectorAll(".spot")];
    if (spots.length === 0) return null;
    const near = spots.reduce((best, spot) => (away(spot) < away(best) ? spot : best));
    return Number(near.dataset.note);
  }
}
