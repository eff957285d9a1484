// What can be made of the melody as it is now: files beside it, by the command line itself.

import { byId, made } from "./elements.js";
import { read, write } from "./talking.js";

const GLANCE = 500;       // milliseconds between two looks at how far something is

export class Making {
  // ``place``: where its forms stand.
  constructor(name, things, place = byId("make")) {
    this.name = name;
    place.replaceChildren(...things.map((thing) => this.form(thing)));
  }

  // A thing with its choices, each with an answer filled in.
  form({ key, words, about, choices, lacks }) {
    const form = made("form", undefined, { class: "thing", "aria-label": words });
    const fields = lacks ? [] : choices.map((choice) => (choice.each ? several : one)(choice));
    const said = made("div", undefined, { class: "made", role: "status" });
    form.append(
      made("h3", words), made("p", about), ...fields,
      made("button", "Make it", { type: "submit" }), said);
    form.querySelector("button").disabled = Boolean(lacks);
    said.textContent = lacks;
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.make(key, form, said);
    });
    return form;
  }

  async make(what, form, said) {
    const button = form.querySelector("button");
    button.disabled = true;
    try {
      const wish = { what, chosen: chosenIn(form) };
      const { making } = await write(`/make/${encodeURIComponent(this.name)}`, wish);
      said.replaceChildren(...told(await this.followed(making, said)));
    } catch (fault) {
      said.textContent = fault.message;
    }
    button.disabled = false;
  }

  // How far it is, until it is there.
  async followed(making, said) {
    for (;;) {
      const now = await read(`/making/${making}`);
      if (now.ended) return now;
      const part = now.of > 1 ? `${now.done + 1} of ${now.of}, ` : "";
      said.textContent = `Being made: ${part}${Math.round(now.seconds)} s so far.`;
      await new Promise((go) => { setTimeout(go, GLANCE); });
    }
  }
}

function one({ key, words, answers }) {
  const label = made("label", `${words} `);
  const select = made("select", undefined, { name: key });
  select.append(...answers.map((answer) => made("option", answer.words, { value: answer.key })));
  label.append(select);
  return label;
}

function several({ key, words, answers }) {
  const group = made("fieldset");
  group.append(made("legend", words));
  for (const answer of answers) {
    const label = made("label");
    const box = made("input", undefined, { type: "checkbox", name: key, value: answer.key });
    box.checked = true;
    label.append(box, ` ${answer.words}`);
    group.append(label);
  }
  return group;
}

// The keys of the answers by choice.
function chosenIn(form) {
  const chosen = {};
  for (const { name, value } of form.querySelectorAll("select")) chosen[name] = value;
  for (const { name, value, checked } of form.querySelectorAll("input")) {
    chosen[name] ??= [];
    if (checked) chosen[name].push(value);
  }
  return chosen;
}

// What was made and where it is, with links that open it.
function told({ made: all, error, seconds }) {
  const lines = all.map(({ name, in: folder, links, more }) => {
    const line = made("p", `“${name}”, in the folder “${folder}”: `);
    links.forEach((link, place) => {
      const words = links.length === 1 && link.name === name ? "open it" : link.name;
      line.append(place ? ", " : "", made("a", words, {
        href: link.href, target: "_blank", rel: "noopener",
      }));
    });
    line.append(more > 0 ? ` and ${more} more.` : ".");
    return line;
  });
  const end = error ?? `Made in ${seconds} s.`;
  return [...lines, made("p", end)];
}
