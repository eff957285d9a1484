// Blind listening: the versions behind letters, in an order that only this closure knows. Nothing
// on the page may differ between one order and another until the names are shown again.

import { byId, made } from "./elements.js";

function shuffled(count) {
  const order = [...Array(count).keys()];
  for (let k = count - 1; k > 0; k--) {
    const other = crypto.getRandomValues(new Uint32Array(1))[0] % (k + 1);
    [order[k], order[other]] = [order[other], order[k]];
  }
  return order;
}

const letter = (place) => String.fromCharCode(65 + place);

export class Blind {
  constructor(facts, changed) {
    Object.assign(this, { facts, changed });
    this.on = false;
    this.order = [...facts.versions.keys()];    // the version behind each button
    this.right = 0;
    this.rounds = 0;
    this.start = byId("blind-start");
    this.form = byId("blind-form");
    this.choices = byId("blind-choices");
    this.result = byId("blind-result");
    this.start.addEventListener("click", () => this.hide());
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.show();
    });
  }

  hide() {
    this.order = shuffled(this.order.length);
    this.on = true;
    this.result.textContent = "The names are hidden. Play, and switch between the letters.";
    this.choices.replaceChildren(...this.order.map((_, place) => {
      const label = made("label");
      const input = made("input", undefined, { type: "radio", name: "shaped", value: place });
      label.append(input, ` ${letter(place)}`);
      return label;
    }));
    this.update();
  }

  show() {
    const answer = new FormData(this.form).get("shaped");
    const names = this.order.map((version, place) =>
      `${letter(place)} is ${this.facts.versions[version].name}`);
    let words = `${names.join(", ")}.`;
    if (answer !== null) {
      const hit = this.order[Number(answer)] === this.facts.shown;
      this.rounds += 1;
      this.right += hit ? 1 : 0;
      words = `You chose ${letter(Number(answer))}: ${hit ? "right" : "not this time"}. ${words} `
        + `${this.right} of ${this.rounds} right so far.`;
    }
    this.on = false;
    this.order = [...this.order.keys()];
    this.result.textContent = words;
    this.update();
    this.start.focus();
  }

  update() {
    this.form.hidden = !this.on;
    this.start.hidden = this.on;
    this.changed();
  }

  name(place) {
    return this.on ? letter(place) : this.facts.versions[place].name;
  }
}
