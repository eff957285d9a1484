// The score as a list of bars and notes in words, with their marks: engraving says nothing to a
// screen reader.

import { byId, made } from "./elements.js";

export class Words {
  constructor(choose) {
    this.choose = choose;
    this.list = byId("words");
  }

  show({ facts, own }) {
    const { mark } = facts.versions[facts.shown];
    this.list.replaceChildren(...facts.bars.map(({ name }, bar) => {
      const row = made("li", `${name}: `);
      facts.notes.forEach((note, index) => {
        if (note.bar !== bar) return;
        const words = [note.name, mark[index] ?? "no mark"];
        if (own.includes(index)) words.push("your own");
        const button = made("button", words.join(", "), { type: "button" });
        button.addEventListener("click", () => this.choose(index));
        row.append(button, " ");
      });
      return row;
    }));
  }
}
