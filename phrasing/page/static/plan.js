// The plan of practice: which steps are done, which come next, how long the rest takes.

export class Plan {
  constructor(steps, done = []) {
    this.steps = steps;
    this.done = new Set(done.filter((step) => step >= 0 && step < steps.length));
  }

  mark(step, done) {
    if (done) this.done.add(step); else this.done.delete(step);
  }

  // Seconds that the steps last that are not done, each played once at this speed.
  left(speed = 1) {
    const open = this.steps.filter((_, step) => !this.done.has(step));
    return open.reduce((sum, { seconds }) => sum + seconds, 0) / speed;
  }

  // The first step from here on that is not done; where all are, this one.
  next(from) {
    const open = this.steps.findIndex((_, step) => step >= from && !this.done.has(step));
    return open >= 0 ? open : Math.min(from, this.steps.length - 1);
  }

  words(speed) {
    const minutes = Math.max(1, Math.round(this.left(speed) / 60));
    const counted = `${this.done.size} of ${this.steps.length} done`;
    if (this.done.size === this.steps.length) return `all ${counted.replace(/^\d+ of /, "")}`;
    return `${counted}, ${minutes} ${minutes === 1 ? "minute" : "minutes"} left`;
  }
}

// The note of a step that sounds at a moment of its file, or null.
export function noteAt({ notes, onset, release }, seconds) {
  if (!notes?.length) return null;
  let at = onset.findIndex((begins) => begins > seconds) - 1;
  if (at === -2) at = onset.length - 1;
  return at >= 0 && seconds < release[at] ? notes[at] : null;
}

// When a note of the melody begins in a step's file; null where the step does not have it.
export function momentOf({ notes, onset }, note) {
  const at = notes ? notes.indexOf(note) : -1;
  return at >= 0 ? onset[at] : null;
}
