// Knows: how a lamp glows on a canvas: its sprite, and how bright a drive looks.
// Must never know: the rig, sockets.

export const REACH = 4.6;

/** The signal 0..1 for linear light 0..1 (sRGB, IEC 61966-2-1). */
export const encode = (light) => light <= 0.0031308 ? 12.92 * light : 1.055 * light ** (1 / 2.4) - 0.055;

export const SHINE = Float32Array.from({ length: 256 }, (_, drive) => encode(drive / 255));

const mix = (a, b, share) => a.map((part, i) => Math.round(part + (b[i] - part) * share));
const css = (rgb, alpha) => `rgba(${rgb.join(",")},${alpha})`;

function sprite(size, draw) {
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = Math.max(2, Math.ceil(size));
  const pen = canvas.getContext("2d");
  pen.translate(canvas.width / 2, canvas.height / 2);
  draw(pen);
  return canvas;
}

/** Sprites of a colour: `glow` grows with the light, `hot` pales the middle of a bright lamp, `image` lies on water. */
export function sprites(rgb, radius) {
  const reach = radius * REACH;
  // A halo is deeper in colour than the lamp; dimmed, the lamp has its full colour, at the top it pales.
  const deep = rgb.map((part) => Math.round(255 * (part / 255) ** 1.9));
  const warm = mix(rgb, deep, 0.35);
  const glow = sprite(2 * reach, (pen) => {
    const halo = pen.createRadialGradient(0, 0, 0, 0, 0, reach);
    for (let step = 0; step <= 16; step++) {
      const out = step / 16 * REACH;
      const light = 0.5 * Math.exp(-((out / 1.25) ** 2)) + 0.24 * Math.exp(-((out / 2.3) ** 2));
      halo.addColorStop(step / 16, css(deep, (light * Math.max(0, 1 - (out / REACH) ** 2)).toFixed(4)));
    }
    pen.fillStyle = halo;
    pen.fillRect(-reach, -reach, 2 * reach, 2 * reach);
    const bowl = pen.createRadialGradient(0, 0, 0, 0, 0, radius);
    bowl.addColorStop(0, css(rgb, 1));
    bowl.addColorStop(0.5, css(warm, 0.95));
    bowl.addColorStop(0.85, css(warm, 0.5));
    bowl.addColorStop(1, css(deep, 0.3));
    pen.fillStyle = bowl;
    pen.beginPath();
    pen.arc(0, 0, radius, 0, 7);
    pen.fill();
  });
  const hot = sprite(2 * radius, (pen) => {
    const heart = pen.createRadialGradient(0, 0, 0, 0, 0, radius);
    heart.addColorStop(0, "rgba(255,250,238,1)");
    heart.addColorStop(0.4, "rgba(255,244,222,0.55)");
    heart.addColorStop(1, "rgba(255,240,214,0)");
    pen.fillStyle = heart;
    pen.fillRect(-radius, -radius, 2 * radius, 2 * radius);
  });
  const image = sprite(2 * reach, (pen) => {
    const streak = pen.createRadialGradient(0, 0, 0, 0, 0, reach);
    for (let step = 0; step <= 8; step++) streak.addColorStop(step / 8, css(step < 2 ? warm : deep, (0.62 * (1 - step / 8) ** 2.2).toFixed(4)));
    pen.fillStyle = streak;
    pen.fillRect(-reach, -reach, 2 * reach, 2 * reach);
  });
  return { glow, hot, image };
}
