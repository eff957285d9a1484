// Which melody is on the desk: chosen from the folder, or dropped on the page.

import { byId, made } from "./elements.js";
import { drop, read } from "./talking.js";

export class Opening {
  constructor({ opened, failed }) {
    Object.assign(this, { opened, failed });
    byId("other").addEventListener("click", () => this.ask());
    byId("choose").addEventListener("change", ({ target }) => this.take(target.files[0]));
    document.addEventListener("dragover", (event) => event.preventDefault());
    document.addEventListener("drop", (event) => {
      event.preventDefault();
      this.take(event.dataTransfer.files[0]);
    });
  }

  // What the address names, or what the desk was started with; else it is asked.
  async begin() {
    const named = decodeURIComponent(location.hash.replace(/^#/, ""));
    const { names, first, folder } = await read("/melodies");
    if (names.includes(named)) return this.opened(named);
    if (first) return this.opened(first);
    return this.show(names, folder);
  }

  async ask() {
    const { names, folder } = await read("/melodies");
    this.show(names, folder);
    byId("opening-heading").scrollIntoView?.();
  }

  show(names, folder) {
    byId("folder").textContent = folder;
    byId("melodies").replaceChildren(...names.map((name) => {
      const row = made("li");
      const button = made("button", name, { type: "button" });
      button.addEventListener("click", () => this.opened(name));
      row.append(button);
      return row;
    }));
    byId("opening").hidden = false;
    byId("melodies").querySelector("button")?.focus();
  }

  close() { byId("opening").hidden = true; }

  async take(file) {
    if (!file) return;
    try {
      const { name } = await drop(file);
      this.opened(name);
    } catch (fault) {
      this.failed(fault.message);
    }
  }
}
