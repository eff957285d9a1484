// The sentence over the notes: what was decided, in words that are themselves the controls.

import { byId, made } from "./elements.js";

const STRENGTHS = [[0, "no"], [0.25, "a quarter"], [0.5, "half"], [0.75, "three quarters"], [1, "full"]];
const RATIOS = [1, 1.25, 1.5, 1.75, 2, 2.5, 3];

function select(label, options, value, change) {
  const box = made("select", undefined, { "aria-label": label });
  for (const [key, words] of options) {
    const option = made("option", words, { value: key });
    option.selected = String(key) === String(value);
    box.append(option);
  }
  box.addEventListener("change", () => change(box.value));
  return box;
}

function number(label, value, [least, most], change) {
  const box = made("input", undefined, {
    type: "number", "aria-label": label, min: least, max: most, step: "any", value,
  });
  box.addEventListener("change", () => { if (box.value) change(Number(box.value)); });
  return box;
}

export class Sentence {
  constructor(set) {
    this.set = set;
    this.place = byId("sentence");
  }

  show({ sentence, choices, band }) {
    const { set } = this;
    this.place.replaceChildren(
      "In the style of ",
      select("Style", choices.styles.map(({ key, name }) => [key, name]), sentence.style,
        (value) => set({ "ask:style": value })),
      " at ",
      number("Quarter notes a minute", sentence.tempo, choices.tempo,
        (value) => set({ "ask:tempo": value })),
      ", eighths ",
      select("Long to short eighth", this.ratios(sentence.ratio), sentence.ratio,
        (value) => set({ "feel:swing.by_tempo": value === "auto" ? null : [[120, Number(value)]] })),
      ", for ",
      select("Instrument",
        choices.instruments.map(({ key, name }) => [key, name]), sentence.instrument,
        (value) => set({ "ask:instrument": value })),
      ", at ",
      select("Strength", this.strengths(sentence.strength), sentence.strength,
        (value) => set({ "feel:strength": Number(value) })),
      " strength",
      ...this.withBand(band),
      ".",
    );
    this.place.hidden = false;
  }

  // Only where there are chords for a band to play.
  withBand(band) {
    if (band === null) return [];
    const answers = [["", "no band"], ["yes", "a band"]];
    return [", with ", select("Band", answers, band ? "yes" : "",
      (value) => this.set({ "ask:band": value ? true : null }))];
  }

  ratios(ratio) {
    const known = RATIOS.includes(ratio) ? RATIOS : [...RATIOS, ratio].toSorted((a, b) => a - b);
    const named = known.map((each) => [each, each === 1 ? "even" : `${each} : 1`]);
    return [...named, ["auto", "as the tempo asks"]];
  }

  strengths(strength) {
    const known = STRENGTHS.map(([value]) => value);
    if (known.includes(strength)) return STRENGTHS;
    const all = [...STRENGTHS, [strength, `${Math.round(100 * strength)} %`]];
    return all.toSorted((a, b) => a[0] - b[0]);
  }
}
