// Puts the parts of the page together.

import { byId } from "./elements.js";
import { Sound } from "./sound.js";
import { Transport } from "./transport.js";
import { Score } from "./score.js";
import { Reasons } from "./reasons.js";
import { Blind } from "./blind.js";
import { Controls } from "./controls.js";
import { Keys } from "./keys.js";

const facts = JSON.parse(byId("facts").textContent);

function main() {
  const sound = facts.sound && new Sound(facts);
  const transport = new Transport(facts, sound);
  const score = new Score(
    facts,
    (note, focus) => reasons.choose(note, focus),
    (first, last) => transport.setLoop({ on: true, first, last }));
  const example = (range) => transport.example(range, 0, 1);
  const reasons = new Reasons(facts, score, {
    ready: () => controls.sounds,
    playFrom: (note) => controls.playFrom(note),
    example,
  });
  const blind = new Blind(facts, () => controls.rearrange());
  const controls = new Controls(facts, sound, transport, score, blind);
  new Keys(transport, controls, reasons, facts);
  for (const button of document.querySelectorAll("button[data-rule]")) {
    const number = Number(button.dataset.rule);
    button.addEventListener("click", () => {
      reasons.light(number);
      example(facts.rules[number].first);
    });
  }
  controls.ready();
}

main();
