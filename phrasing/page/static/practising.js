// Puts the parts of the practice page together.

import { byId, made } from "./elements.js";
import { Announcer } from "./saying.js";
import { Follower } from "./following.js";
import { Handover } from "./handover.js";
import { Memory } from "./keeping.js";
import { momentOf, noteAt, Plan } from "./plan.js";
import { offerKeys, Player } from "./player.js";
import { Score } from "./score.js";
import { StepPlayer } from "./stepplayer.js";
import { Turns } from "./turns.js";

const facts = JSON.parse(byId("facts").textContent);
const memory = new Memory(facts.key);
const kept = memory.read();
const announcer = new Announcer(byId("said"));
const player = facts.inside ? twoWays() : new Player(byId("tape"), facts.steps);
const plan = new Plan(facts.steps, kept.done ?? []);
const follower = new Follower(byId("stand"));
const turns = new Turns(() => {
  if (!player.playing) return;
  player.pause();
  announcer.say("Another page began to play, so this one paused.");
});
const scores = facts.scores.map((score, number) => new Score(
  score, follower, { chosen: playFrom, looped: loopBars }, byId(`score-${number}`)));
const thread = document.querySelector("#thread span");
let shown = null;

// The engine, and the element for while the screen is off, where the page carries the sound.
function twoWays() {
  const engine = new StepPlayer(facts.steps);
  return new Handover(engine, new Player(byId("tape"), facts.steps, () => engine.sound.file()));
}

const step = () => facts.steps[player.step];
const score = () => (step().score === null ? null : scores[step().score]);

function playFrom(note) {
  const moment = note === null ? null : momentOf(step(), note);
  if (moment === null) return;
  player.seek(Math.max(0, moment - 0.03));
  player.play();
}

// The lines that hold a step's bars, with these bars shaded where the step is a part.
function showBars(sheet, [first, last]) {
  sheet.showBars(first, last);
  showLoop(sheet);
}

// The bars that are looped, else those of a step that is a part of the melody.
function showLoop(sheet) {
  const [first, last] = (player.looping && player.bars) || step().bars;
  sheet.showLoop({ on: last - first + 1 < sheet.bars.size, first, last });
}

// The bars of a step that can be looped: those that come in it once.
const ownBars = () => {
  const { first, names = [] } = step();
  return [first, first + names.length - 1];
};

function loopBars(first, last) {
  if (!step().times || !facts.inside) return show(true);
  const [low, high] = ownBars();
  const ends = [first, last].map((bar) => Math.max(low, Math.min(high, bar)));
  player.setLoop(true, ends);
  const names = ends.map((bar) => step().names[bar - low]);
  announcer.say(`Looping ${names[0] === names[1] ? names[0] : names.join(" to ")}.`);
  return keep();
}

function offerBars() {
  const { first, times, names } = step();
  byId("loop-bars").hidden = !facts.inside || !times;
  if (byId("loop-bars").hidden) return;
  for (const id of ["loop-from", "loop-to"]) {
    byId(id).replaceChildren(...names.map((name, k) =>
      made("option", name.replace(/^bar /, ""), { value: first + k })));
  }
}

function chooseBars(id) {
  let [first, last] = player.bars ?? ownBars();
  const bar = Number(byId(id).value);
  if (id === "loop-from") [first, last] = [bar, Math.max(bar, last)];
  else [first, last] = [Math.min(first, bar), bar];
  loopBars(first, last);
}

// What is seen of the step that is up: its title, its notes, its place in the plan.
function show(again = false) {
  if (shown === player.step && !again) return;
  shown = player.step;
  byId("now").textContent = `${shown + 1}. ${step().title}`;
  for (const each of scores) each.root.hidden = each !== score();
  if (score()) showBars(score(), step().bars);
  offerBars();
  offerKeys(player, navigator.mediaSession, { title: step().title, album: facts.title });
}

function update() {
  show();
  const { playing } = player;
  byId("play").querySelector("span").textContent = playing ? "Pause" : "Play";
  byId("play").classList.toggle("playing", playing);
  byId("loop").setAttribute("aria-pressed", String(player.looping));
  if (score()) showLoop(score());
  const [from, to] = player.bars ?? ownBars();
  byId("loop-from").value = from;
  byId("loop-to").value = to;
  byId("back").disabled = player.step === 0;
  byId("on").disabled = player.step === facts.steps.length - 1;
  byId("done").checked = plan.done.has(player.step);
  byId("left").textContent = plan.words(player.speed);
  for (const link of document.querySelectorAll("[data-step]")) {
    const number = Number(link.dataset.step);
    const row = link.parentElement;
    row.classList.toggle("now", number === player.step);
    row.classList.toggle("finished", plan.done.has(number));
    row.querySelector("input").checked = plan.done.has(number);
    if (number === player.step) link.setAttribute("aria-current", "step");
    else link.removeAttribute("aria-current");
  }
}

function draw() {
  score()?.light(player.playing ? noteAt(step(), player.place) : null);
  const share = player.share.toFixed(4);
  if (draw.share !== share) thread.style.transform = `scaleX(${share})`;
  draw.share = share;
  const seconds = Math.round(player.place);
  const words = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
  if (byId("where").textContent !== words) byId("where").textContent = words;
  requestAnimationFrame(draw);
}

function mark(number, done) {
  plan.mark(number, done);
  announcer.say(done ? `Done: ${facts.steps[number].title}.` : "Not done yet.");
  keep();
  update();
}

function goTo(number) {
  player.goTo(number);
  announcer.say(`${step().title}.`);
  keep();
}

function keep() {
  memory.write({
    done: [...plan.done],
    step: player.step,
    speed: player.speed,
    volume: Number(byId("volume").value),
    loop: player.looping,
    goOn: byId("go-on").checked,
  });
}

function setSpeed() {
  const percent = Number(byId("speed").value);
  player.setSpeed(percent / 100);
  const tempo = step().tempo ? `, ♩ = ${Math.round(step().tempo * percent / 100)}` : "";
  byId("speed-said").textContent = `${percent} %${tempo}`;
}

function setVolume() {
  const percent = Number(byId("volume").value);
  byId("volume-said").textContent = `${percent} %`;
  player.setVolume(percent);
}

function openMore(open) {
  byId("settings").hidden = !open;
  byId("more").setAttribute("aria-expanded", String(open));
  if (open) byId("speed").focus(); else byId("more").focus();
}

// A step that was played to its end is done; the next one is up.
function finish(number) {
  mark(number, true);
  const next = plan.next(number + 1);
  if (next === number) return;
  player.load(next);
  if (byId("go-on").checked) player.play();
}

function press(event) {
  const { key, target, ctrlKey, metaKey, altKey } = event;
  if (ctrlKey || metaKey || altKey) return;
  const slider = target.tagName === "INPUT" && target.type === "range";
  const takes = ["BUTTON", "A", "INPUT"].includes(target.tagName) || target.closest?.(".spot");
  const action = {
    " ": () => !takes && (player.toggle(), true),
    ArrowLeft: () => !slider && (goTo(player.step - 1), true),
    ArrowRight: () => !slider && (goTo(player.step + 1), true),
    Escape: () => !byId("settings").hidden && (openMore(false), true),
  }[key];
  if (action?.()) event.preventDefault();
}

function wire() {
  Object.assign(player, { changed: update, finished: finish });
  player.begun = () => { turns.take(); announcer.clear(); };
  player.failed = (words) => announcer.say(words);
  byId("play").addEventListener("click", () => player.toggle());
  byId("back").addEventListener("click", () => goTo(player.step - 1));
  byId("on").addEventListener("click", () => goTo(player.step + 1));
  byId("loop").addEventListener("click", () => {
    player.setLoop(!player.looping);
    announcer.say(player.looping ? "This step again and again." : "This step once.");
    keep();
  });
  for (const id of ["loop-from", "loop-to"]) {
    byId(id).addEventListener("change", () => chooseBars(id));
  }
  byId("more").addEventListener("click", () => openMore(byId("settings").hidden));
  byId("done").addEventListener("change", ({ target }) => mark(player.step, target.checked));
  byId("speed").addEventListener("input", () => { setSpeed(); keep(); });
  byId("volume").addEventListener("input", () => { setVolume(); keep(); });
  byId("go-on").addEventListener("change", keep);
  byId("plan").addEventListener("change", ({ target }) =>
    mark(Number(target.dataset.done), target.checked));
  byId("plan").addEventListener("click", (event) => {
    const link = event.target.closest("[data-step]");
    if (!link) return;
    event.preventDefault();
    goTo(Number(link.dataset.step));
    player.play();
    byId("now").scrollIntoView({ block: "nearest" });
  });
  document.addEventListener("keydown", press);
  document.addEventListener("click", ({ detail, target }) => {
    if (detail > 0) target.closest?.("button")?.blur();
  });
}

function restore() {
  if (kept.volume >= 0) byId("volume").value = kept.volume;
  if (kept.speed > 0) byId("speed").value = Math.round(kept.speed * 100);
  byId("go-on").checked = kept.goOn === true;
  player.load(kept.step ?? plan.next(0));
  player.setLoop(kept.loop === true);
  setSpeed();
  setVolume();
}

wire();
restore();
byId("play").disabled = byId("loop").disabled = false;
update();
requestAnimationFrame(draw);
