// Keeps what sounds in sight for those who follow it, and never pulls back who reads elsewhere.

const READING = 4000;   // milliseconds after a scroll of one's own in which nothing else scrolls

// Whether to scroll on: the next system is not all in view, and the reader was with the last.
export function shouldFollow({ last, next, view, idle }) {
  const inView = ({ top, bottom }) => bottom > view.top && top < view.bottom;
  const whole = next.top >= view.top && next.bottom <= view.bottom;
  return !whole && idle >= READING && (last === null || inView(last));
}

export class Follower {
  constructor(stand, panel = null) {
    Object.assign(this, { stand, panel });
    this.system = null;
    this.scrolled = -Infinity;
    for (const kind of ["wheel", "touchmove"]) {
      addEventListener(kind, () => { this.scrolled = performance.now(); }, { passive: true });
    }
    addEventListener("keydown", ({ key }) => {
      if (key.startsWith("Page") || key === "End") this.scrolled = performance.now();
    });
  }

  // A system (or null) that now sounds.
  goTo(system) {
    if (!system || system === this.system) return;
    const [last, next] = [this.system, system].map((each) => each?.getBoundingClientRect() ?? null);
    this.system = system;
    const idle = performance.now() - this.scrolled;
    if (shouldFollow({ last, next, view: this.view(next), idle })) this.show(system);
  }

  show(system) {
    const { top } = system.getBoundingClientRect();
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    const view = this.view(system.getBoundingClientRect());
    scrollBy({ top: top - view.top - 8, behavior: still ? "auto" : "smooth" });
  }

  // From where to where the score can be seen: between the stand and a note's reason.
  view({ right }) {
    const stand = this.stand.getBoundingClientRect();
    const panel = this.panel?.getBoundingClientRect() ?? { height: 0 };
    const sticky = getComputedStyle(this.stand).position === "sticky";
    const over = panel.height > 0 && panel.left < right;
    return {
      top: sticky ? Math.max(0, stand.bottom) : 0,
      bottom: over ? Math.min(panel.top, innerHeight) : innerHeight,
    };
  }
}
