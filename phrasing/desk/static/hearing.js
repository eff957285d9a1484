// How a change is heard: its stretch put into what plays, the bars around it, before and after.

import { byId } from "./elements.js";
import { read } from "./talking.js";

const LONG = 30;        // seconds from which a change is played as a whole

export class Hearing {
  constructor(name, facts, { sound, transport, controls, announcer }) {
    Object.assign(this, { name, facts, sound, transport, controls, announcer });
  }

  // ``touched``: the seconds that are played otherwise; ``same``: the versions, and when their
  // notes begin, are those of before.
  async follow(touched, same) {
    if (!same) await this.playAnew();
    else if (touched && touched[1] - touched[0] < LONG) await this.mend(touched);
    else if (touched) await this.exchange(touched);
  }

  async exchange(touched) {
    const { sound, transport, facts } = this;
    await sound.exchange(facts.shown, facts.versions);
    if (transport.playing) this.again();
    else if (this.controls.sounds && sound.context) this.audition(touched);
  }

  async mend(touched) {
    const { sound, transport, facts } = this;
    for (const number of facts.versions.keys()) {
      if (number !== facts.shown && number !== 0) sound.tapes[number] = null;
    }
    if (!(await sound.mend(facts.shown, facts.versions, touched))) return;
    if (transport.playing) this.again();
    else if (this.controls.sounds && sound.context) this.audition(touched);
  }

  again() {
    const { transport } = this;
    transport.again(transport.heard.place ?? transport.place);
  }

  // The bars around a change, once.
  audition(touched) {
    const { transport, facts } = this;
    this.turnToShaped();
    transport.example(this.barsAround(touched), facts.shown, facts.shown, true);
  }

  // The shaped version, with its button pressed.
  turnToShaped() {
    const { controls, transport, facts } = this;
    if (transport.version !== facts.shown) controls.turnTo(controls.blind.order.indexOf(facts.shown));
  }

  barsAround(touched) {
    const [first, last] = touched.map((at) => this.facts.bars[this.transport.barAt(at)]);
    return [first.from, last.to];
  }

  // The bars that a step changes, as they were before it, then as they are now.
  async step(step) {
    const { sound, transport, facts, announcer } = this;
    try {
      const { touched } = await read(`/heard/${encodeURIComponent(this.name)}/${step}`);
      if (!touched) return announcer.say("This changed nothing that can be heard.");
      await sound.open();
      if (transport.playing) transport.pause();
      const both = await sound.beforeAndAfter(facts.shown, step, this.barsAround(touched));
      announcer.say("Before, then after.");
      return sound.inTurn(both);
    } catch (fault) {
      return announcer.say(fault.message);
    }
  }

  // The last change as it is now, or as it was before.
  compare(now) {
    if (!this.sound.last) return;
    this.sound.turnLast(now);
    this.announcer.say(now ? "As it is now." : "As it was before.");
    if (this.transport.playing) this.again();
  }

  async playAnew() {
    const { sound, transport, facts } = this;
    const { playing } = transport;
    if (playing) transport.pause();
    sound.renew(facts.versions);
    transport.bars = facts.bars;
    transport.place = Math.min(transport.place, facts.bars.at(-1).to);
    await this.unpack();
    if (playing) transport.play();
  }

  async unpack() {
    const { sound, controls, announcer, facts } = this;
    announcer.say("Playing it in.");
    const order = [facts.shown, 0, ...facts.versions.keys()];
    for (const number of new Set(order)) {
      const fault = await sound.unpack(number);
      if (fault) announcer.say(fault);
      else if (!controls.sounds) controls.enable();
    }
    if (byId("said").textContent === "Playing it in.") announcer.clear();
  }

  // Everything is played and measured again; ``still``: whether it is still wanted then.
  async measure(still) {
    const { sound } = this;
    const others = sound.tapes.map((tape, number) => (tape ? number : -1)).filter((n) => n > 0);
    for (const number of others) {
      const tape = await sound.decoded(number).catch(() => null);
      if (tape && still() && !this.transport.playing) sound.tapes[number] = tape;
    }
  }
}
