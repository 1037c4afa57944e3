/* Curves on paper: panels one below the other, lines that differ by more than colour. */

/** Line styles by what a curve shows, as in the printed figures: colour, dashes, width. */
const PENS = [
  ["pressure", "--pressure", [], 2.2],
  ["flow", "--flow", [10, 5], 2.2],
  ["volume", "--volume", [13, 4.5, 2.5, 4.5], 2.2],
  ["carbon dioxide", "--gas", [2, 2], 2.4],
];

const penOf = (name) => PENS.find(([word]) => name.startsWith(word)) || PENS[0];

/** Round numbers for an axis. */
function ticks(least, most, about) {
  const rough = (most - least) / about;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((times) => times * power).find((one) => one >= rough);
  const all = [];
  for (let i = Math.ceil(least / step - 1e-9); i * step <= most + 1e-9 * step; i += 1) {
    all.push(rounded(i * step, step));
  }
  return all;
}

/** Makes a canvas as sharp as the screen; its pen and its size in CSS pixels. */
function sharp(canvas) {
  const { clientWidth: width, clientHeight: height } = canvas;
  const scale = window.devicePixelRatio || 1;
  const [across, down] = [Math.round(width * scale), Math.round(height * scale)];
  if (canvas.width !== across || canvas.height !== down) {
    canvas.width = across;
    canvas.height = down;
  }
  const pen = canvas.getContext("2d");
  pen.setTransform(scale, 0, 0, scale, 0, 0);
  pen.clearRect(0, 0, width, height);
  return { pen, width, height };
}

/** The colours of the page as they are now, read once for each drawing. */
function colours() {
  const style = getComputedStyle(document.documentElement);
  return (name) => style.getPropertyValue(name).trim();
}

/** How far an axis reaches: it grows at once and shrinks only when much is free, so that
 * a live curve does not jump. */
function reach(panel, kept) {
  let [least, most] = [0, 0];
  for (const { points } of panel.lines) {
    for (let i = 1; i < points.length; i += 2) {
      if (points[i] < least) least = points[i];
      if (points[i] > most) most = points[i];
    }
  }
  if (!(most - least > 1e-9)) most = least + 1;
  const room = 0.06 * (most - least);
  if (least < 0) least -= room;
  most += room;
  const far = kept && kept.least <= least && kept.most >= most &&
    kept.most - kept.least < 1.8 * (most - least);
  return far ? kept : { least, most };
}

const LEFT = 46;
const RIGHT = 8;

/** Draws panels `{name, lines: [{points, ghost}]}` over `from` to `to` seconds; `axes` is
 * kept from one drawing to the next. */
function drawPanels(canvas, panels, from, to, axes, label) {
  const { pen, width, height } = sharp(canvas);
  if (width < 60 || panels.length === 0) return;
  const colour = colours();
  const foot = 20;
  const each = (height - foot) / panels.length;
  const x = (t) => LEFT + ((t - from) / (to - from)) * (width - LEFT - RIGHT);
  pen.font = "12px system-ui, sans-serif";
  panels.forEach((panel, i) => {
    const top = i * each + 20;
    const bottom = (i + 1) * each - 6;
    const axis = (axes[i] = reach(panel, axes[i]));
    const y = (value) => bottom - ((value - axis.least) / (axis.most - axis.least)) * (bottom - top);
    pen.fillStyle = colour("--sheet-ink");
    pen.textAlign = "left";
    pen.textBaseline = "alphabetic";
    pen.fillText(panel.name, LEFT, top - 7);
    pen.lineWidth = 1;
    pen.textAlign = "right";
    pen.textBaseline = "middle";
    for (const tick of ticks(axis.least, axis.most, Math.max(2, (bottom - top) / 34))) {
      pen.strokeStyle = colour(tick === 0 ? "--zero" : "--grid");
      pen.beginPath();
      pen.moveTo(LEFT, Math.round(y(tick)) + 0.5);
      pen.lineTo(width - RIGHT, Math.round(y(tick)) + 0.5);
      pen.stroke();
      pen.fillStyle = colour("--sheet-soft");
      pen.fillText(String(tick).replace("-", "−"), LEFT - 6, y(tick));
    }
    for (const line of panel.lines) drawLine(pen, line, panel.name, x, y, colour);
  });
  pen.textAlign = "center";
  pen.textBaseline = "alphabetic";
  pen.fillStyle = colour("--sheet-soft");
  for (const tick of ticks(from, to, Math.max(2, width / 90))) {
    if (x(tick) > LEFT + 8 && x(tick) < width - 30) pen.fillText(String(tick), x(tick), height - 5);
  }
  pen.textAlign = "right";
  pen.fillText(label || "s", width - RIGHT, height - 5);
}

function drawLine(pen, { points, ghost }, name, x, y, colour) {
  const [, ink, dashes, thick] = penOf(name);
  pen.strokeStyle = colour(ghost ? "--ghost" : ink);
  pen.lineJoin = "round";
  const stroke = (line, pattern) => {
    pen.lineWidth = line;
    pen.setLineDash(pattern);
    pen.beginPath();
    for (let i = 0; i < points.length; i += 2) {
      if (i === 0) pen.moveTo(x(points[i]), y(points[i + 1]));
      else pen.lineTo(x(points[i]), y(points[i + 1]));
    }
    pen.stroke();
  };
  if (ghost) stroke(1.5, []);
  else {
    // A thin line under the dashes, so that no corner falls into a gap.
    if (dashes.length > 0) stroke(0.7, []);
    stroke(thick, dashes);
  }
  pen.setLineDash([]);
}
