// Loop, speed and volume behind the stand's button; what is kept from visit to visit.

import { byId } from "./elements.js";
import { asked, linked, Memory } from "./keeping.js";

export class Settings {
  constructor(facts, { sound, transport, controls }) {
    Object.assign(this, { facts, sound, transport, controls });
    this.memory = new Memory(facts.key);
    for (const id of ["loop-from", "loop-to"]) {
      byId(id).addEventListener("change", () => this.chooseLoop(id));
    }
    byId("count").addEventListener("change", ({ target }) =>
      transport.setLoop({ count: target.value }));
    byId("speed").addEventListener("input", () => this.showSpeed());
    byId("speed").addEventListener("change", ({ target }) =>
      transport.setSpeed(Number(target.value) / 100));
    byId("volume").addEventListener("input", () => this.setVolume());
    byId("copy").addEventListener("click", () => this.copy());
    addEventListener("hashchange", () => this.follow(location.hash));
    addEventListener("pagehide", () => this.keep());
    document.addEventListener("visibilitychange", () => { if (document.hidden) this.keep(); });
  }

  // As it was left, and as the page's address asks.
  restore() {
    const { transport } = this;
    const { volume, letters, place, version, ...kept } = this.memory.read();
    const wishes = asked(location.hash, this.facts);
    const known = this.facts.versions.findIndex(({ name }) => name === version);
    if (Number.isFinite(volume)) byId("volume").value = volume;
    if (letters === false) byId("letters").checked = false;
    if (known >= 0) wishes.version ??= known;
    this.wish({ ...this.whole(kept), ...wishes });
    if (!transport.loop.on && place > transport.start) transport.place = place;
    this.setVolume();
  }

  // Of what was kept, only what this piece has.
  whole({ first, last, speed, count }) {
    const inside = first >= 0 && last >= first && last < this.facts.bars.length;
    return { ...(inside ? { first, last } : {}), ...(speed > 0 ? { speed } : {}), count };
  }

  follow(hash) {
    this.wish(asked(hash, this.facts));
    this.controls.tellLoop();
  }

  wish({ first, last, speed, version, count }) {
    const { transport, controls } = this;
    if (count) {
      byId("count").value = count;
      transport.loop.count = byId("count").value;
    }
    if (speed) transport.setSpeed(speed);
    byId("speed").value = Math.round(transport.speed * 100);
    this.showSpeed();
    if (version !== undefined) {
      controls.place = version;
      transport.hear(version);
    }
    if (first !== undefined) transport.setLoop({ on: true, first, last });
  }

  keep() {
    const { transport, controls } = this;
    if (controls.blind.on) return;
    const { on, first, last, count } = transport.loop;
    this.memory.write({
      ...(on ? { first, last } : {}),
      count,
      speed: transport.speed,
      version: this.facts.versions[transport.version].name,
      place: transport.resume ?? transport.heard.place ?? transport.place,
      volume: Number(byId("volume").value),
      letters: byId("letters").checked,
    });
  }

  // After every change: the fields and the link say what holds.
  update() {
    const { loop } = this.transport;
    byId("loop-from").value = loop.first;
    byId("loop-to").value = loop.last;
    const page = location.href.replace(/#.*$/, "");
    byId("link").value = page + linked(this.transport, this.facts);
  }

  // A bar chosen in one of the fields; the other follows where it would lie on its wrong side.
  chooseLoop(id) {
    const bar = Number(byId(id).value);
    let { first, last } = this.transport.loop;
    if (id === "loop-from") [first, last] = [bar, Math.max(bar, last)];
    else [first, last] = [Math.min(first, bar), bar];
    this.controls.loopBars(first, last, true);
  }

  showSpeed() {
    const percent = Number(byId("speed").value);
    const tempo = Math.round(this.facts.tempo * percent / 100);
    byId("speed-said").textContent = `${percent} %, ♩ = ${tempo}`;
    byId("speed").setAttribute(
      "aria-valuetext", `${percent} percent, ${tempo} quarter notes a minute`);
  }

  setVolume() {
    const percent = Number(byId("volume").value);
    byId("volume-said").textContent = `${percent} %`;
    this.sound?.setVolume(percent);
  }

  async copy() {
    const field = byId("link");
    try {
      await navigator.clipboard.writeText(field.value);
      this.controls.announcer.say("The link is copied.");
    } catch {
      field.focus();
      field.select();
      this.controls.announcer.say("The link is selected: copy it from here.");
    }
  }
}
