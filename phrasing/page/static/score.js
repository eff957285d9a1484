// The notes on the page: what sounds lights up, what is tapped is chosen, bars are dragged.

import { byId } from "./elements.js";

const DRAG = 8;         // pixels that make a tap a drag

export class Score {
  constructor(facts, chosen, dragged) {
    Object.assign(this, { facts, chosen, dragged });
    this.root = byId("score");
    this.sheets = [...this.root.querySelectorAll(".sheet")];
    this.marked = this.grouped("[data-note]", "note");
    this.bars = this.grouped("[data-bar]", "bar");
    this.sounding = null;
    this.note = null;
    for (const sheet of this.root.querySelectorAll(".layout")) {
      sheet.querySelector(".spot")?.setAttribute("tabindex", "0");
    }
    this.listen();
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

  show(sheet) {
    this.sheets.forEach((element, number) => { element.hidden = number !== sheet; });
  }

  // The note that is heard now, or null.
  light(note) {
    if (note === this.sounding) return;
    if (this.sounding !== null) this.mark([this.sounding], "sounding", false);
    this.sounding = note;
    if (note === null) return;
    this.mark([note], "sounding", true);
    this.follow(note);
  }

  // Keeps the system that sounds in sight, unless somebody reads elsewhere on the page.
  follow(note) {
    const system = this.spot(note)?.closest("svg");
    if (!system || system === this.followed) return;
    this.followed = system;
    const { top, bottom, right } = system.getBoundingClientRect();
    const [high, low] = this.window(right);
    const score = this.root.getBoundingClientRect();
    if (score.bottom < high || score.top > low) return;
    if (top >= high && bottom <= low) return;
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    scrollBy({ top: top - high, behavior: still ? "auto" : "smooth" });
  }

  // From where to where the score can be seen: between the desk and a note's reason.
  window(right) {
    const note = byId("note").getBoundingClientRect();
    const over = note.height > 0 && note.left < right;
    const desk = byId("desk").getBoundingClientRect();
    return [desk.bottom, over ? Math.min(note.top, innerHeight) : innerHeight];
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

  lightRule(notes) {
    this.mark(this.lit ?? [], "lit", false);
    this.lit = notes;
    this.mark(notes, "lit", true);
  }

  showLoop({ on, first, last }) {
    for (const [bar, elements] of this.bars) {
      const inside = on && bar >= first && bar <= last;
      for (const element of elements) element.classList.toggle("looped", inside);
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
    this.root.addEventListener("keydown", (event) => {
      const spot = event.target.closest?.(".spot");
      if (!spot || (event.key !== "Enter" && event.key !== " ")) return;
      event.preventDefault();
      event.stopPropagation();
      this.chosen(Number(spot.dataset.note));
    });
  }

  touch(event) {
    const system = event.target.closest?.("svg.system");
    if (!system || event.button !== 0) return;
    const bar = this.barUnder(event);
    this.drag = { system, x: event.clientX, bar, moved: false };
  }

  move(event) {
    const { drag } = this;
    if (!drag || drag.bar === null) return;
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
    if (drag.moved && drag.first !== undefined) this.dragged(drag.first, drag.last);
    else this.chosen(this.nearest(drag.system, event.clientX));
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
