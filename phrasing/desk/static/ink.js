// The notes on paper and the blocks under them, as the desk's server draws them.

import { byId, made } from "./elements.js";
import { read } from "./talking.js";

const FAINTEST = 0.3;         // of the ink of marks that are hardly played

// The score of a melody; ``layout``: that one alone, and of it what is new since ``have``.
export const inkOf = (name, layout = "", have = "") =>
  read(`/score/${encodeURIComponent(name)}${layout && `?layout=${layout}&have=${have}`}`);

// Which of the layouts fits this window.
export function fitting(layouts) {
  return layouts.find((name) => {
    const probe = document.body.appendChild(made("div", undefined, { class: `layout ${name}` }));
    const fits = probe.getClientRects().length > 0;
    probe.remove();
    return fits;
  });
}

// The layout that is seen, which is engraved before the others.
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
    spoil(spot);
  }
}

// What lies on the page: each layout's systems as they were sent, the signs that they use, and
// the faces of their words.
class Sheet {
  constructor(root) {
    this.root = root;
    this.texts = {};
    this.signs = new Set();
    this.spoiled = new Set();
    this.faces = new CSSStyleSheet();
    root.innerHTML = '<svg class="glyphs" aria-hidden="true" width="0" height="0"><defs></defs></svg>';
  }

  // What is as it was stays where it is.
  lay({ layouts, counts, glyphs, faces }) {
    for (const [id, sign] of Object.entries(glyphs)) this.addSign(id, sign);
    for (const [name, systems] of Object.entries(layouts)) {
      const place = this.placeOf(name, counts[name]);
      for (const [at, text] of Object.entries(systems)) {
        if (this.texts[name][at] === text && place.children[at].matches("svg")) continue;
        this.texts[name][at] = text;
        place.children[at].outerHTML = text;
      }
    }
    this.mend();
    if (faces !== null) {
      this.faces.replaceSync(faces);
      document.adoptedStyleSheets = [this.faces];
    }
  }

  addSign(id, sign) {
    if (this.signs.has(id)) return;
    this.signs.add(id);
    this.root.querySelector("defs").insertAdjacentHTML("beforeend", sign);
  }

  placeOf(name, count) {
    const place = this.root.querySelector(`.layout.${name}`)
      ?? this.root.appendChild(made("div", undefined, { class: `layout ${name}` }));
    if (place.children.length !== count) {
      this.texts[name] = [];
      place.replaceChildren(...Array.from({ length: count }, () => made("i")));
    }
    return place;
  }

  // Systems whose picture was changed by hand, and that did not come anew, are as they were sent.
  mend() {
    for (const system of this.spoiled) {
      const place = system.parentElement;
      if (!place) continue;
      const name = [...place.classList].find((each) => each !== "layout");
      system.outerHTML = this.texts[name][[...place.children].indexOf(system)];
    }
    this.spoiled.clear();
  }
}

// Says that something was drawn by hand into the system that holds an element.
export const spoil = (element) => sheet.spoiled.add(element.closest("svg.system"));

let sheet = null;

export function lay(score) {
  sheet ??= new Sheet(byId("paper"));
  sheet.lay(score);
}

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
    spoil(lane);
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
