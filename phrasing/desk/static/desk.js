// Puts the desk together: the listening page's engine, made editable.

import { byId } from "./elements.js";
import { Announcer } from "./saying.js";
import { Blind } from "./blind.js";
import { Card } from "./card.js";
import { Follower } from "./following.js";
import { Handles } from "./handles.js";
import { Keys } from "./keys.js";
import { Making } from "./making.js";
import { Opening } from "./opening.js";
import { Rules } from "./rules.js";
import { DeskControls, DeskScore } from "./renewing.js";
import { grow, inkOf, lay, markOwn, pencilIn, seenLayout } from "./ink.js";
import { Sentence } from "./sentence.js";
import { Settings } from "./settings.js";
import { Steps } from "./steps.js";
import { DeskSound } from "./tapes.js";
import { Transport } from "./transport.js";
import { Turns } from "./turns.js";
import { Words } from "./words.js";
import { showBars, showReadings, showSliders } from "./panels.js";
import { read, turns, write } from "./talking.js";

const IDLE = 2500;      // milliseconds after a change until the whole is measured again
const LONG = 30;        // seconds from which a change is played as a whole

class Desk {
  constructor(name, edition, told, ink) {
    Object.assign(this, { name, edition, told });
    this.facts = { ...told.facts, key: `desk ${name}` };
    this.announcer = new Announcer(byId("said"));
    this.busy = Promise.resolve();
    byId("work").hidden = false;
    lay(ink);
    this.sound = new DeskSound(this.facts, name);
    this.transport = new Transport({ ...this.facts, sound: this.sound.facts }, this.sound);
    this.score = new DeskScore(this.facts, new Follower(byId("stand"), byId("note")), {
      chosen: (note, focus) => this.card.choose(note, focus),
      looped: (first, last, done) => this.controls.loopBars(first, last, done),
    });
    this.blind = new Blind(this.facts, () => this.controls.rearrange());
    const { sound, transport, score, blind, announcer } = this;
    this.controls = new DeskControls(this.facts, { sound, transport, score, blind, announcer });
    this.makeParts();
    this.wire();
    this.renewParts(told);
    this.controls.renew();
    this.settings.restore();
    this.controls.update();
    this.unpack();
  }

  makeParts() {
    const set = (sets) => this.ask({ set: sets });
    this.card = new Card(this.told, this.score, {
      set,
      say: (words) => this.announcer.say(words),
      playFrom: (note) => this.controls.playFrom(note),
      example: (range) => this.transport.example(range, 0, this.facts.shown),
    });
    this.settings = new Settings(this.facts, this);
    this.sentence = new Sentence(set);
    this.steps = new Steps((wish) => this.ask(wish), (step) => this.hearStep(step));
    this.rules = new Rules(this.score, set);
    this.words = new Words((note) => this.card.choose(note, true));
    this.making = new Making(this.name);
    this.handles = new Handles(byId("score"), {
      set,
      say: (words) => this.announcer.say(words),
      markOf: (note) => this.facts.versions[this.facts.shown].mark[note],
      numberOf: (mark, edge) => this.told.feel.find((each) =>
        each.mark === mark && each.key.endsWith(`.${edge}`)),
    });
    new Keys(this.transport, this.controls, this.card, this.facts);
  }

  wire() {
    const { transport, controls, settings, announcer, sound } = this;
    const turn = new Turns(() => { if (transport.playing) transport.pause(); });
    transport.changed = () => { controls.update(); settings.update(); };
    transport.failed = (words) => announcer.say(words);
    transport.begun = () => turn.take();
    sound.interrupted = () => { if (transport.playing) transport.pause(); };
    byId("strength").addEventListener("input", ({ target }) => grow(Number(target.value) / (this.told.sentence.strength || 1)));
    byId("strength").addEventListener("change", ({ target }) =>
      this.ask({ set: { "feel:strength": Number(target.value) } }));
    byId("keep").addEventListener("submit", (event) => {
      event.preventDefault();
      this.ask({ keep: byId("reading-name").value });
      byId("reading-name").value = "";
    });
    document.addEventListener("keydown", (event) => this.press(event));
    document.addEventListener("keyup", ({ key }) => { if (key.toLowerCase() === "b") this.compare(true); });
    turns(this.name, (edition) => { if (edition > this.edition) this.follow(); });
  }

  press(event) {
    const typing = event.target.matches?.("input:not([type=range]):not([type=checkbox]), select");
    if (typing) return;
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z") {
      event.preventDefault();
      this.steps.takeBack();
    } else if (event.key.toLowerCase() === "b" && !event.repeat && byId("letters").checked) {
      this.compare(false);
    }
  }

  // The last change as it is now, or as it was before.
  compare(now) {
    if (!this.sound.last) return;
    this.sound.turnLast(now);
    this.announcer.say(now ? "As it is now." : "As it was before.");
    if (this.transport.playing) this.transport.again(this.transport.heard.place ?? this.transport.place);
  }

  // Changes

  // One after the other, in the order in which they were asked for.
  ask(wish) {
    this.busy = this.busy.then(() => this.change(wish)).catch((fault) => this.fail(fault));
    return this.busy;
  }

  fail(fault) {
    this.announcer.say(fault.message);
    this.renewParts(this.told);
  }

  async change(wish) {
    const began = performance.now();
    pencilIn(wish.set ?? {});
    const { edition, touched, melody } = await write(`/change/${encodeURIComponent(this.name)}`, wish);
    this.edition = edition;
    const same = melody.facts.versions.length === this.facts.versions.length;
    this.renewFacts(melody);
    if (touched && same && touched[1] - touched[0] < LONG) await this.mend(touched);
    else if (touched || !same) await this.playAnew();
    this.took = performance.now() - began;
    await this.draw();
    this.measureLater();
  }

  async mend(touched) {
    const { sound, transport, facts } = this;
    for (const number of facts.versions.keys()) {
      if (number !== facts.shown && number !== 0) sound.tapes[number] = null;
    }
    if (!(await sound.mend(facts.shown, facts.versions, touched))) return;
    if (transport.playing) transport.again(transport.heard.place ?? transport.place);
    else if (this.controls.sounds && sound.context) this.audition(touched);
  }

  // The bars around a change, once.
  audition([from, to]) {
    const { transport, facts } = this;
    const bars = [transport.barAt(from), transport.barAt(to)].map((index) => facts.bars[index]);
    transport.hear(facts.shown);
    transport.example([bars[0].from, bars[1].to], facts.shown, facts.shown, true);
  }

  // The bars that a step changes, as they were before it, then as they are now.
  async hearStep(step) {
    const { sound, transport, facts, announcer } = this;
    try {
      const { touched } = await read(`/heard/${encodeURIComponent(this.name)}/${step}`);
      if (!touched) return announcer.say("This changed nothing that can be heard.");
      const bars = touched.map((seconds) => facts.bars[transport.barAt(seconds)]);
      await sound.open();
      if (transport.playing) transport.pause();
      const both = await sound.beforeAndAfter(facts.shown, step, [bars[0].from, bars[1].to]);
      announcer.say("Before, then after.");
      return sound.inTurn(both);
    } catch (fault) {
      return announcer.say(fault.message);
    }
  }

  async playAnew() {
    const { sound, transport, facts } = this;
    const playing = transport.playing;
    if (playing) transport.pause();
    sound.renew(facts.versions);
    transport.bars = facts.bars;
    transport.place = Math.min(transport.place, facts.bars.at(-1).to);
    await this.unpack();
    if (playing) transport.play();
  }

  // Gains are measured again when nothing is asked for a while.
  measureLater() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.measure(), IDLE);
  }

  async measure() {
    if (this.transport.playing) return this.measureLater();
    await this.draw("");
    const { edition, sound } = this;
    const others = sound.tapes.map((tape, number) => (tape ? number : -1)).filter((n) => n > 0);
    for (const number of others) {
      const tape = await sound.decoded(number).catch(() => null);
      if (tape && edition === this.edition && !this.transport.playing) sound.tapes[number] = tape;
    }
    return null;
  }

  // Another tab or a spreadsheet changed something.
  async follow() {
    const { edition, melody } = await read(`/melody/${encodeURIComponent(this.name)}`);
    if (edition <= this.edition) return;
    this.edition = edition;
    this.renewFacts(melody);
    await this.playAnew();
    await this.draw();
    this.announcer.say("Changed in another window.");
  }

  renewFacts(told) {
    const named = this.facts.versions[this.transport.version]?.name;
    this.told = told;
    Object.assign(this.facts, told.facts);
    this.transport.bars = this.facts.bars;
    this.controls.renew(named);
    this.renewParts(told);
    this.controls.update();
  }

  renewParts(told) {
    byId("title").textContent = told.title;
    document.title = `${told.title}: the desk`;
    byId("file").textContent = [told.file, ...told.warnings].join(". ");
    byId("command").textContent = told.command;
    byId("strength").value = told.sentence.strength;
    this.sentence.show(told);
    this.steps.show(told.steps);
    this.rules.show(told.rules);
    this.words.show(told);
    this.card.renew(told);
    showSliders(told.feel, (sets) => this.ask({ set: sets }));
    showReadings(told.readings, (name) => this.ask({ drop: name }));
    showBars(told.facts.bars);
  }

  async draw(layout = seenLayout()) {
    const { edition, melody } = await inkOf(this.name, layout);
    if (edition < this.edition) return;
    lay(melody);
    this.score.renew();
    markOwn(this.told.own);
    this.controls.update();
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
    markOwn(this.told.own);
  }
}

function problem(words) {
  byId("problem").textContent = words;
  byId("problem").hidden = !words;
}

let open = null;

async function opened(name) {
  if (open) {
    location.hash = encodeURIComponent(name);
    location.reload();
    return;
  }
  problem("");
  try {
    const [{ edition, melody }, ink] = await Promise.all([
      read(`/melody/${encodeURIComponent(name)}`), inkOf(name)]);
    opening.close();
    history.replaceState(null, "", `#${encodeURIComponent(name)}`);
    open = new Desk(name, edition, melody, ink.melody);
    globalThis.desk = open;
  } catch (fault) {
    problem(fault.message);
    opening.ask();
  }
}

const opening = new Opening({ opened, failed: problem });
opening.begin().catch((fault) => problem(fault.message));
