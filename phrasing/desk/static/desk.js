// Puts the desk together: the listening page's engine, made editable.

import { byId } from "./elements.js";
import { Announcer } from "./saying.js";
import { Asking } from "./asking.js";
import { Blind } from "./blind.js";
import { Card } from "./card.js";
import { Follower } from "./following.js";
import { Handles } from "./handles.js";
import { Hearing } from "./hearing.js";
import { Keys } from "./keys.js";
import { Making } from "./making.js";
import { Opening } from "./opening.js";
import { Rules } from "./rules.js";
import { DeskControls, DeskScore } from "./renewing.js";
import { Lever } from "./lever.js";
import { fitting, grow, inkMarks, inkOf, lay, markOwn, pencilIn, seenLayout, spoil } from "./ink.js";
import { Sentence } from "./sentence.js";
import { Settings } from "./settings.js";
import { Steps } from "./steps.js";
import { DeskSound } from "./tapes.js";
import { Transport } from "./transport.js";
import { Turns } from "./turns.js";
import { Words } from "./words.js";
import { showBars, showReadings, showRemarks, showSliders } from "./panels.js";
import { aloneOf } from "./sliders.js";
import { read, turns, write } from "./talking.js";

const IDLE = 2500;      // milliseconds after a change until the whole is measured again

class Desk {
  constructor(name, edition, told, ink) {
    Object.assign(this, { name, edition, told, inked: {} });
    this.facts = { ...told.facts, key: `desk ${name}` };
    this.announcer = new Announcer(byId("said"));
    this.busy = Promise.resolve();
    byId("work").hidden = false;
    this.lay(ink.edition, ink.score);
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
    this.inkOwn();
    this.asking.focus();
    this.hearing.unpack();
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
    this.hearing = new Hearing(this.name, this.facts, this);
    this.steps = new Steps((wish) => this.ask(wish), (step) => this.hearing.step(step));
    this.rules = new Rules(this.score, set);
    this.words = new Words((note) => this.card.choose(note, true));
    this.making = new Making(this.name, this.told.things);
    this.handles = new Handles(byId("score"), {
      set,
      say: (words) => this.announcer.say(words),
      alone: (other) => byId("score").querySelector('[value="alone"]').checked !== other,
      notesLike: (note) => this.notesLike(note),
      numberOf: (note, edge, mark) => (mark === null ? aloneOf(this.told, note, edge)
        : this.told.feel.find((each) => each.mark === mark && each.key.endsWith(`.${edge}`))),
      strength: () => this.told.sentence.strength,
      spoil,
    });
    this.lever = new Lever(byId("strength"), {
      sound: this.sound,
      transport: this.transport,
      strengthNow: () => this.told.sentence.strength,
      shown: () => this.facts.shown,
      draw: (strength) => this.drawStrength(strength),
      hearShaped: () => this.hearing.turnToShaped(),
      set,
    });
    this.asking = new Asking((answers) => this.ask({ answer: answers }));
    new Keys(this.transport, this.controls, this.card, this.facts);
  }

  // The mark of a note (null where it has none), and all notes that have it.
  notesLike(note) {
    const { mark } = this.facts.versions[this.facts.shown];
    const own = mark[note] ?? null;
    return { mark: own, notes: [...mark.keys()].filter((each) => mark[each] === own) };
  }

  wire() {
    const { transport, controls, settings, announcer, sound } = this;
    const turn = new Turns(() => { if (transport.playing) transport.pause(); });
    transport.changed = () => { controls.update(); settings.update(); };
    transport.failed = (words) => announcer.say(words);
    transport.begun = () => turn.take();
    sound.interrupted = () => { if (transport.playing) transport.pause(); };
    byId("keep").addEventListener("submit", (event) => {
      event.preventDefault();
      this.ask({ keep: byId("reading-name").value });
      byId("reading-name").value = "";
    });
    document.addEventListener("keydown", (event) => this.press(event));
    document.addEventListener("keyup", ({ key }) => { if (key.toLowerCase() === "b") this.hearing.compare(true); });
    addEventListener("resize", () => this.fit());
    turns(this.name, (edition) => this.inTurn(() => edition > this.edition && this.follow()));
  }

  press(event) {
    const typing = event.target.matches?.("input:not([type=range]):not([type=checkbox]):not([type=radio]), select");
    if (typing) return;
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z") {
      event.preventDefault();
      this.steps.takeBack();
    } else if (event.key.toLowerCase() === "b" && !event.repeat && byId("letters").checked) {
      this.hearing.compare(false);
    }
  }

  // Changes

  // One after the other, in the order in which they were asked for.
  ask(wish) {
    return this.inTurn(() => this.change(wish));
  }

  inTurn(action) {
    this.busy = this.busy.then(action).catch((fault) => this.fail(fault));
    return this.busy;
  }

  fail(fault) {
    this.announcer.say(fault.message);
    this.renewParts(this.told);
    return this.draw();
  }

  async change(wish) {
    const began = performance.now();
    pencilIn(wish.set ?? {});
    const { edition, touched, melody } = await write(`/change/${encodeURIComponent(this.name)}`, wish);
    this.edition = edition;
    const same = alike(melody.facts, this.facts) && melody.band === this.told.band;
    this.renewFacts(melody);
    await this.hearing.follow(touched, same);
    this.took = performance.now() - began;
    await this.draw();
    this.drew = performance.now() - began;
    this.measureLater();
  }

  // Gains are measured again when nothing is asked for a while.
  measureLater() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.measure(), IDLE);
  }

  async measure() {
    if (this.transport.playing) return this.measureLater();
    await this.draw(seenLayout(), true);
    const { edition } = this;
    return this.hearing.measure(() => edition === this.edition);
  }

  // Another tab or a spreadsheet changed something.
  async follow() {
    const { edition, melody } = await read(`/melody/${encodeURIComponent(this.name)}`);
    if (edition <= this.edition) return;
    this.edition = edition;
    this.renewFacts(melody);
    await this.hearing.playAnew();
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
    byId("file").textContent = told.file;
    showRemarks(told.warnings);
    byId("command").textContent = told.command;
    this.lever.show(told.sentence.strength);
    this.asking.show(told.doubts);
    this.sentence.show(told);
    this.steps.show(told.steps);
    this.rules.show(told.rules);
    this.words.show(told);
    this.card.renew(told);
    showSliders(told.feel, (sets) => this.ask({ set: sets }));
    showReadings(told.readings, (name) => this.ask({ drop: name }));
    showBars(told.facts.bars);
  }

  lay(edition, score) {
    lay(score);
    for (const layout of Object.keys(score.layouts)) this.inked[layout] = edition;
  }

  // As it would look at a strength, before it is drawn so.
  drawStrength(strength) {
    const { strength: now } = this.told.sentence;
    grow(now > 0 ? strength / now : 1);
    inkMarks(this.facts.shown, strength);
  }

  inkOwn() {
    markOwn(this.told);
    inkMarks(this.facts.shown, this.told.sentence.strength);
  }

  // In another window another layout may fit, which was not drawn yet.
  fit() {
    const layout = fitting(opening.layouts);
    if (this.inked[layout] !== this.edition) this.draw(layout);
  }

  // ``whole``: not only what is new, so that lines may be divided anew.
  async draw(layout = seenLayout(), whole = false) {
    const have = whole ? "" : this.inked[layout] ?? "";
    const { edition, score } = await inkOf(this.name, layout, have);
    if (edition < this.edition) return;
    const focused = document.activeElement?.closest?.(".spot")?.dataset.note;
    this.lay(edition, score);
    this.score.renew();
    if (focused !== undefined) this.score.spot(Number(focused))?.focus({ preventScroll: true });
    this.inkOwn();
    this.controls.update();
  }
}

// Whether versions have their notes at the same moments.
const moments = ({ versions }) => JSON.stringify(versions.map(({ name, onset }) => [name, onset]));
const alike = (one, other) => moments(one) === moments(other);

function problem(words) {
  byId("problem").textContent = words;
  byId("problem").hidden = !words;
}

let open = null;

// A chart has no melody: all that can be had of it is its backing.
function showChart(name) {
  history.replaceState(null, "", `#${encodeURIComponent(name)}`);
  opening.close();
  byId("chart-heading").textContent = name;
  byId("chart").hidden = false;
  new Making(name, [opening.ofChart], byId("of-chart"));
}

async function opened(name) {
  if (open) {
    location.hash = encodeURIComponent(name);
    location.reload();
    return;
  }
  problem("");
  if (/\.chart$/i.test(name)) return showChart(name);
  try {
    const [{ edition, melody }, ink] = await Promise.all([
      read(`/melody/${encodeURIComponent(name)}`), inkOf(name, fitting(opening.layouts))]);
    opening.close();
    history.replaceState(null, "", `#${encodeURIComponent(name)}`);
    byId("chart").hidden = true;
    open = new Desk(name, edition, melody, ink);
    globalThis.desk = open;
  } catch (fault) {
    problem(fault.message);
    opening.ask();
  }
}

const opening = new Opening({ opened, failed: problem });
opening.begin().catch((fault) => problem(fault.message));
