// Of all open pages, one sounds at a time: who begins to play tells the others.

const PLACE = "phrasing sounds";

export class Turns {
  constructor(lost) {
    this.me = `${Date.now()} ${Math.random()}`;
    const heard = (who) => { if (who && who !== this.me) lost(); };
    try {
      this.channel = new BroadcastChannel(PLACE);
      this.channel.addEventListener("message", ({ data }) => heard(data));
    } catch {
      this.channel = null;
    }
    addEventListener("storage", ({ key, newValue }) => { if (key === PLACE) heard(newValue); });
  }

  take() {
    this.channel?.postMessage(this.me);
    try {
      localStorage.setItem(PLACE, this.me);
    } catch {
      // Without a shared place, pages cannot hear of each other.
    }
  }
}
