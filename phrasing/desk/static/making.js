// What can be made of the melody as it is now: files beside it, by the command line itself.

import { byId, made } from "./elements.js";
import { write } from "./talking.js";

const THINGS = [
  ["shape", "MIDI, sound, sheet and page", "Everything in one folder, as “phrasing shape” makes it."],
  ["page", "A page to listen on", "One file to send to students."],
  ["sheet", "The sheet", "A PDF with the marks."],
  ["exercise", "An exercise", "The plain notes to mark, the answer behind."],
  ["parts", "Parts for the class", "The sheet for C, B♭, E♭ and bass-clef instruments."],
  ["backing", "A backing", "The band alone, to play over; the melody needs chord symbols."],
  ["practice", "Practice files", "Phrases, tempos, call and response."],
];

export class Making {
  constructor(name) {
    this.name = name;
    byId("make").replaceChildren(...THINGS.map((thing) => this.button(thing)));
  }

  button([what, words, title]) {
    const button = made("button", words, { type: "button", title });
    button.addEventListener("click", () => this.make(what, words, button));
    return button;
  }

  async make(what, words, button) {
    button.disabled = true;
    byId("made").textContent = `${words}: being made.`;
    try {
      const { said } = await write(`/make/${encodeURIComponent(this.name)}`, { what });
      byId("made").textContent = `${words}: ${said}`;
    } catch (fault) {
      byId("made").textContent = fault.message;
    }
    button.disabled = false;
  }
}
