// A number of the feel as a slider, with what it is and what it usually is.

import { made } from "./elements.js";

const STEPS = 200;
let count = 0;

const shown = (value) => String(Math.round(value * 100) / 100).replace("-", "−");

export function slider({ name, value, usual, least, most, own }, change) {
  const row = made("div", undefined, { class: "slider" });
  const id = `slider-${count++}`;
  const step = Math.max(0.01, Math.round((most - least) / STEPS * 100) / 100);
  const input = made("input", undefined, { id, type: "range", min: least, max: most, step, value });
  const output = made("output", undefined, { for: id });
  const tell = () => {
    output.textContent = shown(Number(input.value)) + (own ? `, usually ${shown(usual)}` : "");
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
