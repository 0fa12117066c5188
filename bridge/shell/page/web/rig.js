// Knows: the rig on the canvas: where each lamp is, redrawing only what changed, steady light where it is asked for.
// Must never know: sockets, the show, what a lamp is for.

import { REACH, SHINE, sprites } from "./light.js";
import { paint } from "./scenery.js";

const STEADY_PER_SECOND = 90;

export class Rig {
  constructor(canvas, marks) {
    this.canvas = canvas;
    this.marks = marks;
    this.lamps = [];
    this.target = new Uint8Array(0);
    this.chosen = new Set();
    this.steady = true;
    this.pen = canvas.getContext("2d", { alpha: false });
    this.backdrop = document.createElement("canvas");
    new ResizeObserver(() => this.layOut()).observe(canvas.parentElement);
  }

  /** Another rig, or the same one with lamps moved. */
  setLamps(lamps) {
    this.lamps = lamps;
    if (this.target.length !== lamps.length) {
      this.target = new Uint8Array(lamps.length);
      this.shown = new Float32Array(lamps.length);
    }
    this.layOut();
  }

  /** The drives 0..255 of all lamps. */
  setDrives(drives) {
    if (drives.length !== this.lamps.length) return;
    this.target.set(drives);
    this.wake();
  }

  setSteady(steady) { this.steady = steady; this.wake(); }

  wake() {
    if (!this.frame) this.frame = requestAnimationFrame((now) => this.turn(now));
  }

  turn(now) {
    this.frame = 0;
    const step = this.steady ? STEADY_PER_SECOND * Math.min(0.1, (now - (this.last ?? now)) / 1000) : 255;
    this.last = now;
    const changed = [];
    let moving = false;
    for (let i = 0; i < this.lamps.length; i++) {
      const way = this.target[i] - this.shown[i];
      if (!way) continue;
      this.shown[i] = Math.abs(way) <= step ? this.target[i] : this.shown[i] + Math.sign(way) * step;
      moving ||= this.shown[i] !== this.target[i];
      changed.push(i);
    }
    if (changed.length) {
      this.draw(changed);
      this.onShown?.(this.shown);
    }
    if (moving) this.wake();
    else this.last = undefined;
  }

  layOut() {
    const box = this.canvas.parentElement.getBoundingClientRect();
    const ratio = Math.min(2, devicePixelRatio || 1);
    if (!box.width || !box.height || !this.lamps.length) return;
    for (const canvas of [this.canvas, this.marks, this.backdrop]) {
      canvas.width = Math.round(box.width * ratio);
      canvas.height = Math.round(box.height * ratio);
    }
    this.ratio = ratio;
    this.fit(box.width, box.height);
    const pen = this.backdrop.getContext("2d");
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    paint(pen, box.width, box.height, this.shed, this.shore);
    for (const spot of this.spots) this.bowl(pen, spot);
    this.pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    this.draw(null);
    this.drawMarks();
  }

  /** Metres to pixels: to scale, y up, with the water below. */
  fit(width, height) {
    const xs = this.lamps.map((lamp) => lamp.x), ys = this.lamps.map((lamp) => lamp.y);
    const low = [Math.min(...xs), Math.min(...ys)], high = [Math.max(...xs), Math.max(...ys)];
    const near = this.lamps.length > 600 ? [] : this.lamps.map((a, i) => this.lamps.reduce((least, b, j) =>
      i === j ? least : Math.min(least, Math.hypot(a.x - b.x, a.y - b.y)), Infinity));
    const gaps = near.filter(Number.isFinite).sort((a, b) => a - b);
    const gap = gaps[gaps.length >> 1] ?? (this.lamps.length > 600 ? 0.5 : 1);
    const span = [Math.max(high[0] - low[0], gap), Math.max(high[1] - low[1], gap)];
    this.shore = Math.round(height * 0.83);
    const head = Math.min(124, height * 0.23), side = Math.min(90, width * 0.09);
    const scale = Math.min((width - 2 * side) / span[0], (this.shore - head - 26) / span[1]);
    const middle = (low[0] + high[0]) / 2;
    const floor = this.shore - 24 - Math.max(0, (this.shore - head - 26 - scale * span[1]) * 0.35);
    this.scale = scale;
    const radius = Math.max(2.5, Math.min(0.33 * gap * scale, 0.05 * Math.min(width, height) + 4));
    // Lenses of one head hang closer than lamps: none covers another.
    this.spots = this.lamps.map((lamp, i) => ({
      x: width / 2 + (lamp.x - middle) * scale, y: floor - (lamp.y - low[1]) * scale,
      radius: Math.max(2, Math.min(radius, 0.47 * (near[i] ?? gap) * scale)),
    }));
    this.glows = new Map();
    this.boxes = this.lamps.map((_, i) => this.patches(i));
    const half = scale * span[0] / 2 + Math.min(46, side * 0.7), up = floor - scale * (high[1] - low[1]);
    const left = width / 2 - half, right = width / 2 + half;
    const eaves = up + Math.min(10, radius);
    this.shed = { left, right, eaves, top: Math.max(10, eaves - Math.min(half * 0.42, eaves - 12)), posts: [left, right] };
  }

  glow(rgb, radius) {
    const key = `${rgb} ${radius}`;
    if (!this.glows.has(key)) this.glows.set(key, sprites(rgb, radius * this.ratio));
    return this.glows.get(key);
  }

  /** A lamp that is off: a dark bowl with an enamel rim, lit from above. */
  bowl(pen, { x, y, radius }) {
    pen.fillStyle = "#0b111f";
    pen.beginPath();
    pen.arc(x, y, radius, 0, 7);
    pen.fill();
    const rim = pen.createLinearGradient(0, y - radius, 0, y + radius);
    rim.addColorStop(0, "#7f93c0");
    rim.addColorStop(1, "#2f3d63");
    pen.strokeStyle = rim;
    pen.lineWidth = Math.max(1, radius * 0.1);
    pen.stroke();
  }

  /** The part of the picture that a lamp's light falls on, and that of its mirror image. */
  patches(i) {
    const { x, y, radius } = this.spots[i], reach = radius * REACH;
    const image = this.mirror(i);
    return [[x - reach, y - reach, 2 * reach, 2 * reach], [image.x - image.wide, image.y - image.tall, 2 * image.wide, 2 * image.tall]];
  }

  mirror(i) {
    const { x, y, radius } = this.spots[i];
    return { x, y: this.shore + (this.shore - y) * 0.14 + 6, wide: radius * 2.2, tall: radius * 7 };
  }

  draw(changed) {
    const width = this.canvas.width / this.ratio, height = this.canvas.height / this.ratio;
    if (!changed || changed.length > Math.min(40, this.lamps.length / 4)) return this.region(0, 0, width, height);
    for (const i of changed) for (const [x, y, w, h] of this.boxes[i]) {
      const left = Math.max(0, Math.floor(x)), top = Math.max(0, Math.floor(y));
      const right = Math.min(width, Math.ceil(x + w)), bottom = Math.min(height, Math.ceil(y + h));
      if (right > left && bottom > top) this.region(left, top, right - left, bottom - top);
    }
  }

  region(x, y, w, h) {
    const { pen, ratio } = this;
    pen.save();
    pen.beginPath();
    pen.rect(x, y, w, h);
    pen.clip();
    pen.drawImage(this.backdrop, x * ratio, y * ratio, w * ratio, h * ratio, x, y, w, h);
    pen.globalCompositeOperation = "lighter";
    const meets = ([left, top, wide, tall]) => left < x + w && left + wide > x && top < y + h && top + tall > y;
    for (let i = 0; i < this.lamps.length; i++) {
      const shine = SHINE[Math.round(this.shown[i])];
      if (!shine) continue;
      const [here, there] = this.boxes[i], spot = this.spots[i], { glow, hot, image } = this.glow(this.lamps[i].rgb, spot.radius);
      if (meets(here)) {
        pen.globalAlpha = shine;
        pen.drawImage(glow, ...here);
        pen.globalAlpha = shine ** 3;
        pen.drawImage(hot, spot.x - spot.radius, spot.y - spot.radius, 2 * spot.radius, 2 * spot.radius);
      }
      if (meets(there)) this.reflect(image, shine, there);
    }
    pen.restore();
  }

  reflect(image, shine, [x, y, w, h]) {
    const { pen } = this;
    pen.save();
    pen.beginPath();
    pen.rect(x, this.shore + 4, w, h);
    pen.clip();
    pen.globalAlpha = shine * 0.8;
    pen.drawImage(image, x, y, w, h);
    pen.restore();
  }

  /** Rings around chosen lamps, on a canvas of their own. */
  drawMarks() {
    const pen = this.marks.getContext("2d");
    pen.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    pen.clearRect(0, 0, this.marks.width, this.marks.height);
    pen.lineWidth = 2;
    for (const i of this.chosen) {
      const spot = this.spots[i];
      if (!spot) continue;
      for (const [style, dash] of [["#0b1020", []], ["#f6efdf", [5, 4]]]) {
        pen.strokeStyle = style;
        pen.setLineDash(dash);
        pen.beginPath();
        pen.arc(spot.x + (this.drag?.[0] ?? 0), spot.y + (this.drag?.[1] ?? 0), spot.radius + 5, 0, 7);
        pen.stroke();
      }
    }
  }

  /** The lamp at a point of the window, -1 for none. */
  at(x, y) {
    let best = -1, near = 26;
    this.spots?.forEach((spot, i) => {
      const far = Math.hypot(spot.x - x, spot.y - y) * (spot.radius > 18 ? 18 / spot.radius : 1);
      if (far < near) [best, near] = [i, far];
    });
    return best;
  }
}
