// Plays the steps of a plan one at a time through the page's media element, which a phone goes
// on playing while its screen is off, and whose buttons its lock screen shows.

export const MISSING = "is not beside this page. Keep all files of the folder together.";

// What every way to play steps does with its own play, pause and load.
export class Stepping {
  toggle() {
    return this.playing ? this.pause() : this.play();
  }

  // To another step; what plays goes on playing.
  goTo(step) {
    const { playing } = this;
    this.load(step);
    if (playing) this.play();
  }
}

export class Player extends Stepping {
  constructor(media, steps, address = (step) => steps[step].file) {
    super();
    Object.assign(this, { media, steps, address });
    this.step = 0;
    this.speed = 1;
    this.bars = null;           // it knows the whole step alone
    this.round = null;          // seconds from which to which it goes round, null for all of it
    this.changed = () => {};    // called after every change
    this.begun = () => {};      // called whenever sound begins
    this.finished = () => {};   // called with the step that was played to its end
    this.failed = () => {};     // called with a sentence where nothing can be played
    media.preservesPitch = true;
    media.addEventListener("play", () => { this.begun(); this.changed(); });
    media.addEventListener("pause", () => this.changed());
    media.addEventListener("timeupdate", () => this.goRound());
    media.addEventListener("ended", () => this.finished(this.step));
    media.addEventListener("error", () => this.fail());
  }

  get playing() { return !this.media.paused && !this.media.ended; }

  // Seconds from the start of the step's file.
  get place() { return this.media.currentTime; }

  // Share of the step that has been played, 0 to 1.
  get share() { return Math.min(1, this.place / this.steps[this.step].seconds); }

  get looping() { return this.media.loop; }

  load(step) {
    this.step = Math.max(0, Math.min(this.steps.length - 1, step));
    if (this.media.src.startsWith("blob:")) URL.revokeObjectURL(this.media.src);
    this.media.src = this.address(this.step);
    this.media.defaultPlaybackRate = this.speed;
    this.media.playbackRate = this.speed;
    this.changed();
  }

  async play() {
    try {
      await this.media.play();
    } catch {
      if (!this.media.error) this.failed("The browser holds the sound back. Press Play once more.");
    }
  }

  pause() { this.media.pause(); }

  // Plays for a moment what nobody hears.
  async unlock() {
    this.media.muted = true;
    try {
      await this.media.play();
      this.media.pause();
    } catch {
      // Then it cannot play while the page is not seen.
    }
    this.media.muted = false;
  }

  seek(seconds) {
    this.media.currentTime = seconds;
    this.changed();
  }

  setLoop(on, round = null) {
    this.media.loop = on;
    this.round = round;
    this.changed();
  }

  goRound() {
    if (this.round && this.place >= this.round[1]) this.media.currentTime = this.round[0];
  }

  setSpeed(speed) {
    this.speed = speed;
    this.media.defaultPlaybackRate = speed;
    this.media.playbackRate = speed;
    this.changed();
  }

  setVolume(percent) {
    this.media.volume = (percent / 100) ** 2;
  }

  fail() {
    this.failed(`“${this.steps[this.step].file}” ${MISSING}`);
    this.changed();
  }
}

// The buttons of a lock screen or of headphones, where the browser has them.
export function offerKeys(player, session, { title, album }) {
  if (!session) return;
  const actions = {
    play: () => player.play(),
    pause: () => player.pause(),
    previoustrack: () => player.goTo(player.step - 1),
    nexttrack: () => player.goTo(player.step + 1),
  };
  for (const [name, action] of Object.entries(actions)) session.setActionHandler(name, action);
  if (globalThis.MediaMetadata) session.metadata = new MediaMetadata({ title, album });
}
