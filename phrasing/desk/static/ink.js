// The notes on paper and the blocks under them, as the desk's server draws them.

import { byId } from "./elements.js";
import { read } from "./talking.js";

const FAINTEST = 0.3;         // of the ink of marks that are hardly played

export const inkOf = (name, layout = "") =>
  read(`/score/${encodeURIComponent(name)}${layout && `?layout=${layout}`}`);

// The layout that fits this window, which is engraved before the others.
export function seenLayout() {
  const seen = [...byId("paper").querySelectorAll(".layout")].find((each) =>
    each.getClientRects().length > 0);
  return seen ? [...seen.classList].find((name) => name !== "layout") : "";
}

// New marks are seen at once, in pencil over their notes; they are engraved when they were heard.
export function pencilIn(sets) {
  for (const [key, value] of Object.entries(sets)) {
    if (!key.startsWith("mark:") || !value) continue;
    pencil(Number(key.slice(5)), value === "none" ? "no mark" : value);
  }
}

function pencil(note, word) {
  for (const spot of byId("paper").querySelectorAll(`.spot[data-note="${note}"]`)) {
    const number = (name) => Number(spot.getAttribute(name));
    const text = document.createElementNS("http://www.w3.org/2000/svg", "text");
    text.setAttribute("class", "pencil");
    text.setAttribute("x", number("x") + number("width") / 2);
    text.setAttribute("y", number("y"));
    text.textContent = word;
    spot.after(text);
  }
}

export function lay({ ink, faces }) {
  byId("paper").innerHTML = ink;
  if (faces === null || faces === laid.faces) return;
  laid.faces = faces;
  laid.sheet.replaceSync(faces);
  document.adoptedStyleSheets = [laid.sheet];
}

// The faces that the score's words are set in, as a style sheet of its own.
const laid = { faces: "", sheet: new CSSStyleSheet() };

// The teacher's own marks, levels and lengths have a line of points around them: not by colour
// alone.
export function markOwn({ own, alone }) {
  const sounds = new Set(Object.values(alone).flatMap((each) => Object.keys(each.own)));
  for (const block of byId("paper").querySelectorAll(".front rect[data-note]")) {
    block.classList.toggle("own", sounds.has(block.dataset.note));
  }
  for (const spot of byId("paper").querySelectorAll(".spot")) {
    const is = own.includes(Number(spot.dataset.note));
    spot.classList.toggle("own", is);
    const label = spot.getAttribute("aria-label")?.replace(/, your own$/, "");
    if (label) spot.setAttribute("aria-label", is ? `${label}, your own` : label);
  }
}

// The marks of a version come in with its strength: none where it is plain.
export function inkMarks(version, strength) {
  const opacity = strength > 0 ? FAINTEST + (1 - FAINTEST) * strength : 0;
  for (const marks of byId("paper").querySelectorAll(`.staff .layer[data-version="${version}"]`)) {
    marks.setAttribute("opacity", opacity.toFixed(2));
  }
}

// Blocks on their way from their outline to their full size: a share of 0 to 1.
export function grow(share) {
  for (const lane of byId("paper").querySelectorAll(".lane")) {
    if (lane.getClientRects().length === 0) continue;
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
