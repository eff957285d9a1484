// Lists and fields that are made anew with every edition: sliders, readings, bars.

import { byId, made } from "./elements.js";
import { slider } from "./sliders.js";

export function showSliders(feel, set) {
  const marks = [...new Set(feel.map(({ mark }) => mark).filter(Boolean))];
  byId("sliders").replaceChildren(...marks.map((mark) => {
    const group = made("fieldset");
    group.append(made("legend", mark), ...feel.filter((each) => each.mark === mark).map((each) =>
      slider(each, (value) => set({ [each.key]: value }))));
    return group;
  }));
}

export function showReadings(readings, drop) {
  byId("readings").replaceChildren(...readings.map((name) => {
    const row = made("li", name);
    const button = made("button", "Drop it", { type: "button", "aria-label": `Drop ${name}` });
    button.addEventListener("click", () => drop(name));
    row.append(" ", button);
    return row;
  }));
}

// What the reader has to say of the file, folded away.
export function showRemarks(remarks) {
  const place = byId("remarks");
  place.hidden = remarks.length === 0;
  const count = remarks.length === 1 ? "One remark" : `${remarks.length} remarks`;
  place.querySelector("summary").textContent = `${count} on how the file was read`;
  place.querySelector("ul").replaceChildren(...remarks.map((remark) => made("li", remark)));
}

export function showBars(bars) {
  for (const id of ["loop-from", "loop-to"]) {
    const { value } = byId(id);
    byId(id).replaceChildren(...bars.map(({ name }, index) =>
      made("option", name, { value: index })));
    byId(id).value = value || (id === "loop-to" ? bars.length - 1 : 0);
  }
}
