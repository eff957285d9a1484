// The keyboard. Keys that are letters or digits can be turned off, for those whose own keys or
// speech they would disturb (WCAG 2.1.4).

import { byId } from "./elements.js";

// Whether the focused element has its own use for a key.
function takes({ key, target }) {
  const { tagName, type } = target;
  if (tagName === "INPUT" && type === "range") return key.startsWith("Arrow") || key === "Home";
  if (tagName === "INPUT" && type === "radio") return key.startsWith("Arrow") || key === " ";
  if (tagName === "INPUT" && type !== "checkbox") return key !== "Escape";
  if (tagName === "SELECT") return key !== "Escape";
  return key === " " && ["BUTTON", "A", "INPUT", "SUMMARY"].includes(tagName);
}

export class Keys {
  constructor(transport, controls, reasons, facts) {
    Object.assign(this, { transport, controls, reasons, facts });
    this.letters = byId("letters");
    document.addEventListener("keydown", (event) => this.press(event));
  }

  press(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || takes(event)) return;
    const action = this.action(event);
    if (!action) return;
    event.preventDefault();
    action();
  }

  action({ key, shiftKey }) {
    const { transport, controls } = this;
    const step = { ArrowLeft: -1, ArrowRight: 1 }[key];
    if (step && shiftKey) return () => this.stepNote(step);
    if (key === "Escape") return () => controls.close() || this.reasons.close();
    if (controls.sounds) {
      if (step) return () => transport.step(step);
      if (key === " ") return () => transport.toggle();
      if (key === "Home") return () => transport.again(transport.start);
    }
    return this.letters.checked ? this.letter(key) : null;
  }

  letter(key) {
    const { controls } = this;
    if (key.toLowerCase() === "s") return () => controls.next();
    if (key.toLowerCase() === "l" && controls.sounds) return () => controls.toggleLoop();
    const place = Number(key) - 1;
    return place in controls.buttons ? () => controls.turnTo(place) : null;
  }

  stepNote(step) {
    const last = this.facts.notes.length - 1;
    const note = this.reasons.note === null ? 0 : this.reasons.note + step;
    this.reasons.choose(Math.max(0, Math.min(last, note)), true);
  }
}
