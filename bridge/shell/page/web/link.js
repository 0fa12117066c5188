// Knows: the one socket to the show: reconnecting, pictures as bytes, the rest as JSON.
// Must never know: the page, or what a message is for.

const PAUSES = [300, 600, 1200, 2500, 5000];
const WHOLE = 1;
const SILENT_MS = 25000;

export class Link {
  /** `on` has: facts(facts), news(changed, all), picture(drives), reply(reply), state("open" | "lost" | "elsewhere"). */
  constructor(on) {
    this.on = on;
    this.drives = new Uint8Array(0);
    this.news = {};
    this.tries = 0;
    this.open();
    addEventListener("online", () => this.again(0));
    // A tablet that slept finds its socket dead without being told.
    document.addEventListener("visibilitychange", () => {
      if (!document.hidden && Date.now() - this.heard > SILENT_MS) this.socket.close();
    });
  }

  open() {
    this.heard = Date.now();
    const socket = new WebSocket(`ws://${location.host}/socket`);
    socket.binaryType = "arraybuffer";
    socket.onmessage = (message) => {
      this.heard = Date.now();
      if (typeof message.data === "string") this.line(JSON.parse(message.data));
      else this.bytes(new DataView(message.data));
    };
    socket.onclose = () => { if (socket === this.socket) this.lost(); };
    this.socket = socket;
  }

  get up() { return this.socket.readyState === WebSocket.OPEN && this.ready; }

  lost() {
    this.ready = false;
    this.on.state("lost");
    this.again(PAUSES[Math.min(this.tries++, PAUSES.length - 1)]);
    // The show may have a new link: then the page itself says so.
    if (this.tries === 3) fetch("/", { method: "HEAD" }).then((answer) => { if (answer.status === 401) this.on.state("elsewhere"); }, () => {});
  }

  again(pause) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => { if (this.socket.readyState === WebSocket.CLOSED) this.open(); }, pause);
  }

  line({ word, ...rest }) {
    if (word === "facts") {
      this.tries = 0;
      if (!this.ready) { this.ready = true; this.news = {}; this.on.state("open"); }
      this.on.facts(rest);
    } else if (word === "news") {
      for (const [key, value] of Object.entries(rest.news)) {
        if (value === null) delete this.news[key];
        else this.news[key] = value;
      }
      this.on.news(rest.news, this.news);
    } else if (word === "reply") this.on.reply(rest);
  }

  bytes(view) {
    const number = view.getUint32(1, true);
    if (view.getUint8(0) === WHOLE) this.drives = new Uint8Array(view.buffer, 5).slice();
    else for (let at = 5; at + 2 < view.byteLength; at += 3) this.drives[view.getUint16(at, true)] = view.getUint8(at + 2);
    this.on.picture(this.drives);
    // Said when it is drawn: a page that nobody looks at is sent no more pictures.
    requestAnimationFrame(() => this.send({ word: "seen", n: number }));
  }

  send(message) {
    if (this.up) this.socket.send(JSON.stringify(message));
    return this.up;
  }

  ask(what, name = "", value = 0) { return this.send({ word: "do", what, name, value }); }
}
