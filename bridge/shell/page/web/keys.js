// Knows: the keyboard and the pads on the page: fingers, mouse, the computer's keys; how hard by where.
// Must never know: sockets, what a key does to lamps beyond their light to show on it.

import { $, attribute, fill, make, write } from "./dom.js";

const WHITE = [0, 2, 4, 5, 7, 9, 11];
const NAMES = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
const WIDE = 35;
/** Two octaves under the hands, by where a key is, not by what is printed on it. */
const CODES = ["KeyZ", "KeyS", "KeyX", "KeyD", "KeyC", "KeyV", "KeyG", "KeyB", "KeyH", "KeyN", "KeyJ", "KeyM",
  "KeyQ", "Digit2", "KeyW", "Digit3", "KeyE", "KeyR", "Digit5", "KeyT", "Digit6", "KeyY", "Digit7", "KeyU", "KeyI"];

const isWhite = (note) => WHITE.includes(note % 12);
/** The octave that the mapping gives to note 60, middle C. */
let middle = 4;
export const nameOf = (note) => `${NAMES[note % 12]}${Math.floor(note / 12) - 5 + middle}`;
const strength = (low, high, share) => Math.round(low + (high - low) * Math.min(1, Math.max(0, share)));

export class Keys {
  /** `play(key, velocity)` is told of every strike, and with 0 of every release; a key has note, source, channel. */
  constructor(play) {
    this.play = play;
    this.held = new Map();
    this.pointers = new Map();
    this.byNote = new Map();
    this.all = [];
    this.strike = 92;
    this.letters = true;
    this.printed = new Map();
    this.off = false;
    for (const place of [$("keys"), $("discs")]) this.listen(place);
    $("lower").onclick = () => this.move(-12);
    $("higher").onclick = () => this.move(12);
    new ResizeObserver(() => this.layOut()).observe($("keys"));
    addEventListener("keydown", (event) => this.typed(event, true));
    addEventListener("keyup", (event) => this.typed(event, false));
    addEventListener("blur", () => this.letGo());
    document.addEventListener("visibilitychange", () => document.hidden && this.letGo());
    navigator.keyboard?.getLayoutMap?.().then((map) => { this.printed = map; this.layOut(true); }, () => {});
  }

  setMapping({ keys, discs, chords, middle: octave }, lamps) {
    this.letGo();
    middle = octave ?? 4;
    this.lamps = lamps;
    const usual = keys[0] ?? chords[0] ?? { source: "", channel: 1 };
    this.byNote = new Map(keys.map((key) => [key.note, key]));
    this.usual = { source: usual.source, channel: usual.channel };
    const notes = keys.length ? keys.map((key) => key.note) : [60, 83];
    this.low = 12 * Math.floor(Math.min(...notes) / 12);
    this.high = Math.min(127, 12 * Math.floor(Math.max(...notes) / 12) + 11);
    // The computer's keys begin where they reach the most lamps.
    const reach = (first) => keys.filter((key) => key.note >= first && key.note < first + CODES.length).length;
    this.first = this.low;
    for (let c = this.low; c <= this.high; c += 12) if (reach(c) > reach(this.first)) this.first = c;
    this.from = this.first;
    this.setDiscs(discs);
    this.layOut(true);
  }

  setDiscs(discs) {
    this.discs = discs;
    fill($("discs"), JSON.stringify([discs, this.lamps?.map((lamp) => lamp.rgb)]), () => discs.map((disc) => {
      const button = make("button", { type: "button", class: `disc${disc.does ? " doer" : ""}`, "data-is": `${disc.source}/${disc.note}`,
        "aria-label": `Pad ${disc.name}` }, make("span", { class: "face" }), make("span", { class: "disc-name" }, disc.name));
      button.key = disc;
      button.style.setProperty("--light", this.colour(disc));
      return button;
    }));
    $("discs").hidden = !discs.length;
    this.elements();
  }

  colour(key) {
    const rgb = this.lamps?.[key.lamps[0]]?.rgb;
    return rgb ? `rgb(${rgb.join(" ")})` : "#8fa3cf";
  }

  move(by) {
    this.letGo();
    this.first = Math.min(108, Math.max(0, this.first + by));
    this.from = Math.min(108, Math.max(0, this.from + by));
    this.layOut(true);
  }

  /** As many keys as there is room for: those that play lamps, from `from` on where they do not all fit. */
  layOut(again = false) {
    if (this.low === undefined) return;
    const roomIn = (element, less) => Math.max(7, Math.floor((element.clientWidth - less) / WIDE));
    const board = $("keys").parentElement;
    let notes = [];
    for (let note = this.low; note <= this.high; note++) notes.push(note);
    const fits = notes.filter(isWhite).length <= roomIn(board, 0);
    const room = roomIn(board, 100);
    if (!fits || this.from < this.low || this.from > this.high) {
      notes = [];
      for (let note = this.from, whites = 0; note <= 127; note++) {
        whites += isWhite(note);
        if (whites > room) break;
        notes.push(note);
      }
    }
    $("lower").hidden = $("higher").hidden = fits && this.from >= this.low && this.from <= this.high;
    const key = `${notes[0]}-${notes.at(-1)}-${this.first}-${this.letters}`;
    if (!again && key === this.laid) return;
    this.laid = key;
    $("keys").filledBy = undefined;
    fill($("keys"), key, () => this.buttons(notes));
    this.elements();
  }

  buttons(notes) {
    const whites = notes.filter(isWhite).length;
    // No letters where there is nothing but a touch screen.
    const printed = this.letters && matchMedia("(any-hover: hover)").matches;
    let place = 0;
    return notes.map((note, i) => {
      const white = isWhite(note);
      const mapped = this.byNote.get(note);
      const letter = printed ? this.letter(CODES[note - this.first]) : "";
      const button = make("button", { type: "button", class: `key ${white ? "natural" : "raised"}${mapped ? "" : " idle"}`,
        "data-is": note, tabindex: i ? -1 : 0,
        "aria-label": mapped ? `${nameOf(note)}, plays ${mapped.name}` : `${nameOf(note)}, plays nothing` },
      make("span", { class: "letter", "data-text": letter }), mapped ? make("span", { class: "bead" }) : null,
      note % 12 === 0 ? make("span", { class: "octave", "data-text": nameOf(note) }) : null);
      button.key = mapped ?? { note, lamps: [], ...this.usual };
      if (mapped) button.style.setProperty("--light", this.colour(mapped));
      button.style.left = `${(white ? place : place - 0.3) / whites * 100}%`;
      button.style.width = `${(white ? 1 : 0.6) / whites * 100}%`;
      place += white;
      return button;
    });
  }

  letter(code) {
    if (!code) return "";
    return (this.printed.get?.(code) ?? code.replace(/Key|Digit/, "")).toUpperCase();
  }

  elements() {
    this.all = [...$("keys").children, ...$("discs").children].filter((element) => element.key);
  }

  /** The lamps' light on the keys that play them. */
  light(drives) {
    for (const element of this.all) {
      let most = 0;
      for (const lamp of element.key.lamps) most = Math.max(most, drives[lamp] ?? 0);
      if (element.lit !== most) {
        element.lit = most;
        element.style.setProperty("--lit", (most / 255).toFixed(3));
      }
    }
  }

  // ---- fingers and mouse

  listen(place) {
    place.addEventListener("pointerdown", (event) => {
      if (event.button > 0) return;
      const element = event.target.closest("button");
      if (!element) return;
      event.preventDefault();
      element.focus({ preventScroll: true });
      if (element.hasPointerCapture(event.pointerId)) element.releasePointerCapture(event.pointerId);
      this.press(event.pointerId, element, this.velocity(event, element));
    });
    place.addEventListener("pointermove", (event) => {
      if (!this.pointers.has(event.pointerId) || place.id !== "keys") return;
      const element = document.elementFromPoint(event.clientX, event.clientY)?.closest("#keys button");
      if (element && element !== this.pointers.get(event.pointerId)) this.press(event.pointerId, element, this.velocity(event, element));
    });
    for (const end of ["pointerup", "pointercancel"]) addEventListener(end, (event) => this.lift(event.pointerId));
    place.addEventListener("contextmenu", (event) => event.preventDefault());
    place.addEventListener("keydown", (event) => this.walk(event, place));
    place.addEventListener("keyup", (event) => { if (event.key === " " || event.key === "Enter") this.lift("focus"); });
    place.addEventListener("focusout", () => this.lift("focus"));
  }

  /** Harder towards the edge of a key that is nearest the player; harder in the middle of a pad. */
  velocity(event, element) {
    const box = element.getBoundingClientRect();
    if (element.classList.contains("disc")) {
      const far = Math.hypot((event.clientX - box.left) / box.width - 0.5, (event.clientY - box.top) / box.height - 0.5);
      return strength(124, 40, far * 2);
    }
    return strength(36, 124, (event.clientY - box.top) / box.height * 1.08);
  }

  press(who, element, velocity) {
    this.lift(who);
    this.pointers.set(who, element);
    this.down(element.key, velocity);
  }

  lift(who) {
    const element = this.pointers.get(who);
    if (!element) return;
    this.pointers.delete(who);
    this.up(element.key);
  }

  /** With the arrows from key to key, with the space bar or Enter a strike. */
  walk(event, place) {
    const element = event.target.closest("button");
    if (!element || event.repeat && event.key !== "ArrowLeft" && event.key !== "ArrowRight") return;
    const to = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (to && place.id === "keys") {
      const next = [...place.children][[...place.children].indexOf(element) + to];
      if (next) { element.tabIndex = -1; next.tabIndex = 0; next.focus(); }
      event.preventDefault();
    } else if (event.key === " " || event.key === "Enter") {
      event.preventDefault();
      this.press("focus", element, this.strike);
    }
  }

  // ---- the computer's keys

  typed(event, down) {
    const at = CODES.indexOf(event.code);
    if (at < 0) return;
    if (!down) return void this.lift(event.code);
    const busy = event.repeat || event.ctrlKey || event.metaKey || event.altKey || this.off || !this.letters ||
      document.querySelector("dialog[open]") || event.target.closest?.("input:not([type=range],[type=radio],[type=checkbox]),select,textarea");
    if (busy) return;
    event.preventDefault();
    const note = this.first + at;
    if (note > 127) return;
    const key = this.byNote.get(note) ?? { note, lamps: [], ...this.usual };
    this.press(event.code, { key }, this.strike);
  }

  // ---- what is down

  name(key) { return `${key.source}/${key.channel}/${key.note}`; }

  down(key, velocity) {
    if (this.off) return;
    const name = this.name(key);
    this.held.set(name, (this.held.get(name) ?? 0) + 1);
    this.mark(key, true);
    this.play(key, velocity);
  }

  up(key) {
    const name = this.name(key), left = (this.held.get(name) ?? 0) - 1;
    if (left > 0) return void this.held.set(name, left);
    if (this.held.delete(name)) this.play(key, 0);
    this.mark(key, false);
  }

  mark(key, down) {
    const name = this.name(key);
    for (const element of this.all) if (this.name(element.key) === name) element.classList.toggle("down", down);
  }

  letGo() {
    for (const who of [...this.pointers.keys()]) this.lift(who);
  }

  setOff(off) {
    if (off) this.letGo();
    this.off = off;
    attribute($("quay"), "data-off", off);
  }

  hint() {
    return this.letters && matchMedia("(any-hover: hover)").matches
      ? `Play: touch the keys, or type ${["KeyZ", "KeyC", "KeyB"].map((code) => this.letter(code)).join(" ")} together`
      : "Play: touch the keys, several at once if you like";
  }
}
