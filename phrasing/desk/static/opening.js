// Which melody is on the desk: chosen from the folder, or dropped on the page.

import { byId, made } from "./elements.js";
import { drop, read } from "./talking.js";

const RECORDING = /\.(wav|mp3|flac|ogg|oga|opus|m4a|aac|aiff?|wma|webm)$/i;

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
    const { names, first, folder, layouts, of_chart: ofChart } = await read("/melodies");
    Object.assign(this, { layouts, ofChart });
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

  // A file that was dropped or chosen: each kind has its own way.
  take(file) {
    if (!file) return null;
    return RECORDING.test(file.name) ? this.takeRecording(file) : this.takeMelody(file);
  }

  // A recording beside the melody that is open will be a view of its own.
  takeRecording({ name }) {
    this.failed(`${name}: is a recording, and the desk cannot lay one beside a melody yet. `
      + "It was not kept. To open a melody, drop MIDI, MusicXML or a chord chart.");
  }

  async takeMelody(file) {
    try {
      const { name } = await drop(file);
      this.opened(name);
    } catch (fault) {
      this.failed(fault.message);
    }
  }
}
