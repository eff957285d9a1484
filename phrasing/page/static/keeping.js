// What a link asks for, and what a visitor left behind: bars, speed, version, place, volume.

const SLOWEST = 0.5, FASTEST = 1.2;

// A bar as a link names it: its number, "pickup", and ".2" for its second time.
export function barName(bars, index) {
  const { number } = bars[index];
  const time = bars.slice(0, index + 1).filter((bar) => bar.number === number).length;
  return `${number || "pickup"}${time > 1 ? `.${time}` : ""}`;
}

function barNamed(bars, name) {
  return bars.findIndex((_, index) => barName(bars, index) === name);
}

function range(text, bars) {
  const [from, to = from] = (text ?? "").split("-").map((name) => barNamed(bars, name));
  return from >= 0 && to >= from ? { first: from, last: to } : {};
}

// What "#bars=5-8&speed=60&version=shaped" asks for; what it does not say is left out.
export function asked(hash, { bars, versions }) {
  const words = new URLSearchParams(hash.replace(/^#/, ""));
  const wishes = range(words.get("bars"), bars);
  const speed = Number(words.get("speed")) / 100;
  if (speed > 0) wishes.speed = Math.min(FASTEST, Math.max(SLOWEST, speed));
  const version = versions.findIndex(({ name }) => name === words.get("version"));
  if (version >= 0) wishes.version = version;
  return wishes;
}

// The link that asks for this; whole pieces and usual speeds are not named.
export function linked({ loop, speed, version }, { bars, versions }) {
  const words = new URLSearchParams();
  if (loop.on) {
    const ends = [loop.first, loop.last].map((index) => barName(bars, index));
    words.set("bars", loop.first === loop.last ? ends[0] : ends.join("-"));
  }
  if (speed !== 1) words.set("speed", Math.round(speed * 100));
  words.set("version", versions[version].name);
  return `#${words}`;
}

// What is kept in the browser, where it lets a page keep anything.
export class Memory {
  constructor(key) {
    this.key = `phrasing ${key}`;
  }

  read() {
    try {
      return JSON.parse(localStorage.getItem(this.key)) ?? {};
    } catch {
      return {};
    }
  }

  write(state) {
    try {
      localStorage.setItem(this.key, JSON.stringify(state));
    } catch {
      // Nothing can be kept here; the page goes on without.
    }
  }
}
