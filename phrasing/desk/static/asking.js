// What a file leaves open, asked in a short form with every answer filled in: Enter goes on.

import { byId, made } from "./elements.js";

export class Asking {
  constructor(answer) {
    this.form = byId("asking");
    this.doubts = [];
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      answer(this.answers());
    });
  }

  // Nothing is shown where nothing is in doubt. A form that was asked already keeps its answers.
  show(doubts) {
    const same = JSON.stringify(doubts) === JSON.stringify(this.doubts);
    const left = doubts.length === 0 && this.form.contains(document.activeElement);
    this.form.hidden = doubts.length === 0;
    if (left) byId("play").focus();
    if (same) return;
    this.doubts = doubts;
    byId("questions").replaceChildren(...doubts.map((doubt) => this.question(doubt)));
  }

  question({ about, question, answers }) {
    const group = made("fieldset");
    group.append(made("legend", question));
    answers.forEach(({ words }, number) => {
      const label = made("label");
      const choice = made("input", undefined, { type: "radio", name: about, value: number });
      choice.checked = number === 0;
      label.append(choice, ` ${words}`);
      group.append(label);
    });
    return group;
  }

  // By what each question is about, the value of the answer that is chosen.
  answers() {
    return Object.fromEntries(this.doubts.map(({ about, answers }) => {
      const chosen = this.form.querySelector(`input[name="${about}"]:checked`);
      return [about, answers[Number(chosen.value)].value];
    }));
  }

  focus() {
    if (!this.form.hidden) this.form.querySelector("input:checked").focus();
  }
}
