// A number of the feel as a slider, with what it is and what it usually is.

import { made } from "./elements.js";

const STEPS = 200;
let count = 0;

const shown = (value) => String(Math.round(value * 100) / 100).replace("-", "−");

const WORDS = { level: "level, dB", gate: "length" };
const SPAN = { level: [-20, 8], gate: [0.05, 1.2] };    // what a hand's width of slider is for

// The level or the length of one note alone, with its limits.
export function aloneOf({ alone }, note, what) {
  const { limits, values, own } = alone[what];
  const value = own[note] ?? values[note];
  const [least, most] = limits;
  return { key: `${what}:${note}`, name: WORDS[what], value, least, most, own: note in own };
}

// The same for a slider, which need not reach as far as what is possible.
export function aloneSlider(told, note, what) {
  const number = aloneOf(told, note, what);
  const [low, high] = SPAN[what];
  return {
    ...number,
    least: Math.max(number.least, Math.min(low, number.value)),
    most: Math.min(number.most, Math.max(high, number.value)),
  };
}

const told = (own, usual) => {
  if (!own) return "";
  return usual === undefined ? ", its own" : `, usually ${shown(usual)}`;
};

export function slider({ name, value, usual, least, most, own }, change) {
  const row = made("div", undefined, { class: "slider" });
  const id = `slider-${count++}`;
  const step = Math.max(0.01, Math.round((most - least) / STEPS * 100) / 100);
  const input = made("input", undefined, { id, type: "range", min: least, max: most, step, value });
  const output = made("output", undefined, { for: id });
  const tell = () => {
    output.textContent = shown(Number(input.value)) + told(own, usual);
  };
  input.addEventListener("input", tell);
  input.addEventListener("change", () => change(Number(input.value)));
  tell();
  row.append(made("label", name, { for: id }), input, output);
  if (own) {
    const back = made("button", "As usual", { type: "button", "aria-label": `${name} as usual` });
    back.addEventListener("click", () => change(null));
    row.append(back);
  }
  return row;
}
