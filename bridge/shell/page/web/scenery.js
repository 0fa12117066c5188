// Knows: the view from the window: dusk, the far shore, the water, and the shed the lamps hang in.
// Must never know: light of the moment, sockets.

/** A number 0..1 that is always the same for the same n: stars stand still. */
const chance = (n) => { const x = Math.sin(n * 127.1) * 43758.5453; return x - Math.floor(x); };

/** Paint the ground once for a size. `shed` is the box of the lamps in pixels, `shore` the height of the water. */
export function paint(pen, width, height, shed, shore) {
  const sky = pen.createLinearGradient(0, 0, 0, shore);
  sky.addColorStop(0, "#080c1b");
  sky.addColorStop(0.55, "#10182f");
  sky.addColorStop(0.86, "#222643");
  sky.addColorStop(1, "#46364c");
  pen.fillStyle = sky;
  pen.fillRect(0, 0, width, shore);
  for (let n = 0; n < 70; n++) {
    pen.fillStyle = `rgba(214,222,240,${(0.08 + 0.3 * chance(n + 0.3)).toFixed(2)})`;
    const size = 0.6 + chance(n + 0.7);
    pen.fillRect(chance(n) * width, chance(n + 0.5) * shore * 0.6, size, size);
  }
  hills(pen, width, shore);
  water(pen, width, height, shore);
  if (shed) boathouse(pen, shed, shore, height);
}

function hills(pen, width, shore) {
  pen.fillStyle = "#0e1528";
  pen.beginPath();
  pen.moveTo(0, shore);
  for (let x = 0; x <= width + 8; x += 8) {
    const u = x / Math.max(width, 700);
    const rise = 0.55 + 0.25 * Math.sin(u * 7.1 + 0.6) + 0.16 * Math.sin(u * 17.3 + 2) + 0.04 * Math.sin(u * 61);
    pen.lineTo(x, shore - rise * Math.min(46, shore * 0.09));
  }
  pen.lineTo(width, shore);
  pen.fill();
}

function water(pen, width, height, shore) {
  const deep = pen.createLinearGradient(0, shore, 0, height);
  deep.addColorStop(0, "#1b2038");
  deep.addColorStop(0.18, "#111930");
  deep.addColorStop(1, "#0a1020");
  pen.fillStyle = deep;
  pen.fillRect(0, shore, width, height - shore);
  for (let n = 0; n < 46; n++) {
    const far = chance(n + 0.2) ** 1.6;
    const y = shore + 2 + far * (height - shore);
    const long = (14 + 70 * chance(n + 0.4)) * (0.35 + far);
    pen.fillStyle = `rgba(150,170,214,${(0.05 + 0.05 * chance(n + 0.9)).toFixed(3)})`;
    pen.fillRect(chance(n) * width - long / 2, y, long, 1);
  }
}

function boathouse(pen, shed, shore, height) {
  const { left, right, top, eaves, posts } = shed;
  const middle = (left + right) / 2;
  const roof = () => {
    pen.beginPath();
    pen.moveTo(left, shore);
    pen.lineTo(left, eaves);
    pen.lineTo(middle, top);
    pen.lineTo(right, eaves);
    pen.lineTo(right, shore);
    pen.closePath();
  };
  pen.save();
  roof();
  const inside = pen.createLinearGradient(0, top, 0, shore);
  inside.addColorStop(0, "#141a2e");
  inside.addColorStop(1, "#0f1526");
  pen.fillStyle = inside;
  pen.fill();
  pen.clip();
  // Boards of the back wall.
  pen.fillStyle = "rgba(190,205,240,0.035)";
  for (let x = left; x < right; x += 26) pen.fillRect(x, top, 1, shore - top);
  pen.restore();
  pen.lineJoin = pen.lineCap = "round";
  pen.strokeStyle = "#2b2a33";
  pen.lineWidth = 7;
  pen.beginPath();
  pen.moveTo(left - 16, eaves + 9);
  pen.lineTo(middle, top);
  pen.lineTo(right + 16, eaves + 9);
  pen.stroke();
  pen.strokeStyle = "rgba(233,226,210,0.16)";
  pen.lineWidth = 1.2;
  pen.beginPath();
  pen.moveTo(left - 16, eaves + 5.5);
  pen.lineTo(middle, top - 3.5);
  pen.lineTo(right + 16, eaves + 5.5);
  pen.stroke();
  pen.fillStyle = "#23232d";
  for (const x of posts) pen.fillRect(x - 4, x === middle ? top : eaves, 8, shore - eaves + 3);
  // The landing stage it stands on.
  pen.fillStyle = "#1c1d27";
  pen.fillRect(left - 34, shore - 3, right - left + 68, 7);
  pen.fillStyle = "rgba(6,9,18,0.55)";
  pen.fillRect(left - 30, shore + 4, right - left + 60, Math.min(10, height - shore));
}
