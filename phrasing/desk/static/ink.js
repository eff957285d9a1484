// The notes on paper and the blocks under them, as the desk's server draws them.

import { byId } from "./elements.js";
import { read } from "./talking.js";

export const inkOf = (name) => read(`/score/${encodeURIComponent(name)}`);

export function lay(ink) {
  byId("paper").innerHTML = ink;
}

// The teacher's own marks have a line of points around them: not by colour alone.
export function markOwn(own) {
  for (const spot of byId("paper").querySelectorAll(".spot")) {
    const is = own.includes(Number(spot.dataset.note));
    spot.classList.toggle("own", is);
    const label = spot.getAttribute("aria-label")?.replace(/, your own$/, "");
    if (label) spot.setAttribute("aria-label", is ? `${label}, your own` : label);
  }
}

// Blocks on their way from their outline to their full size: a share of 0 to 1.
export function grow(share) {
  for (const lane of byId("paper").querySelectorAll(".lane")) {
    const plain = new Map([...lane.querySelectorAll(".back rect")].map((rect) =>
      [rect.dataset.note, rect]));
    for (const block of lane.querySelectorAll(".front rect")) {
      const base = plain.get(block.dataset.note);
      if (base) grown(block, base, share);
    }
  }
}

function grown(block, base, share) {
  for (const name of ["x", "y", "width", "height"]) {
    const [kept, from] = [`full${name}`, Number(base.getAttribute(name))];
    block.dataset[kept] ??= block.getAttribute(name);
    const full = Number(block.dataset[kept]);
    block.setAttribute(name, Math.max(0, from + share * (full - from)));
  }
}
