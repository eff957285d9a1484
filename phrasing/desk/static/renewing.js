// The listening page's score and buttons, when what they show is new.

import { byId, made } from "./elements.js";
import { Controls } from "./controls.js";
import { Score } from "./score.js";

export class DeskScore extends Score {
  // Other ink on the page, of the same notes or of others.
  renew() {
    this.marked = this.grouped("[data-note]", "note");
    this.bars = this.grouped("[data-bar]", "bar");
    this.layers = this.grouped("[data-version]", "version");
    this.sounding = null;
    const { version } = this;
    this.version = null;
    this.makeButtonsOf(version);
    if (this.note !== null) this.setPressed(this.note, true);
    if (this.lit) this.mark(this.lit, "lit", true);
  }

  makeButtonsOf(version) {
    this.version = Math.min(version ?? this.facts.shown, this.facts.versions.length - 1);
    this.makeButtons();
    const shown = this.version;
    this.version = null;
    this.show(shown);
  }
}

export class DeskControls extends Controls {
  // A button for each version that there is now.
  renew(named) {
    const row = byId("versions");
    this.buttons = this.facts.versions.map(({ name }, place) => {
      const button = made("button", undefined, { type: "button", "aria-pressed": "false" });
      button.append(made("kbd", String(place + 1)), made("span", name));
      button.disabled = !this.sounds;
      button.dataset.needsSound = "";
      button.addEventListener("click", () => this.turnTo(place));
      return button;
    });
    row.replaceChildren(...this.buttons);
    this.blind.order = [...this.facts.versions.keys()];
    const place = this.facts.versions.findIndex(({ name }) => name === named);
    this.place = place >= 0 ? place : this.facts.shown;
    this.seen = null;
    this.transport.version = this.place;
  }
}
