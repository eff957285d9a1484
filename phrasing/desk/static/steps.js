// What was changed, as plain sentences; each can be taken back and put back.

import { byId, made } from "./elements.js";

export class Steps {
  constructor(ask, hear) {
    Object.assign(this, { ask, hear });
    this.list = byId("steps");
    this.undo = byId("undo");
    this.undo.addEventListener("click", () => this.takeBack());
  }

  show(steps) {
    this.steps = steps;
    byId("no-steps").hidden = steps.length > 0;
    this.undo.disabled = !steps.some(({ stands }) => stands);
    this.list.replaceChildren(...steps.map((step) => this.row(step)).toReversed());
  }

  row({ number, said, stands }) {
    const row = made("li", undefined, { class: stands ? "stands" : "fallen", value: number });
    const button = made("button", stands ? "Take back" : "Put back", {
      type: "button", "aria-label": `${stands ? "Take back" : "Put back"}: ${said}`,
    });
    button.addEventListener("click", () => this.ask({ [stands ? "back" : "again"]: number }));
    const hear = made("button", "Before and after", {
      type: "button", "aria-label": `Hear it before and after: ${said}`,
    });
    hear.addEventListener("click", () => this.hear(number));
    row.append(made("span", `${said}.`), " ", hear, " ", button);
    return row;
  }

  takeBack() {
    const last = this.steps?.findLast(({ stands }) => stands);
    if (last) this.ask({ back: last.number });
  }
}
