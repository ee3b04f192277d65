// Lines of the plan in metres, and the way from metres to the screen. x runs to the right, y upwards. Nothing here draws.

export function numberOf(text) {
  if (text === "" || text === null || text === undefined) return null;
  const value = Number(String(text).replace(",", "."));
  return Number.isFinite(value) && Math.abs(value) < 1e6 ? value : null;
}

export function cornersOf(outline) {
  const corners = [];
  for (const text of outline ?? []) {
    const pair = text.trim().split(/\s+/).map(numberOf);
    if (pair.length === 2 && pair[0] !== null && pair[1] !== null) corners.push(pair);
  }
  return corners;
}

export function boundsOf(points) {
  if (!points.length) return { left: 0, bottom: 0, right: 5, top: 4 };
  const xs = points.map((point) => point[0]);
  const ys = points.map((point) => point[1]);
  return { left: Math.min(...xs), bottom: Math.min(...ys), right: Math.max(...xs), top: Math.max(...ys) };
}

// The walls of a room as solid pieces, and its openings as pieces of their own.
export function wallsOf(corners, openings) {
  const solid = [];
  const gaps = [];
  for (const [wall, [x, y]] of corners.entries()) {
    const [endX, endY] = corners[(wall + 1) % corners.length];
    const length = Math.hypot(endX - x, endY - y);
    if (length === 0) continue;
    const along = (metres) => [x + ((endX - x) * metres) / length, y + ((endY - y) * metres) / length];
    let from = 0;
    const here = (openings ?? [])
      .filter((opening) => opening.wall === wall && numberOf(opening.start) !== null && numberOf(opening.width) !== null)
      .map((opening) => ({ kind: opening.kind, start: numberOf(opening.start), end: numberOf(opening.start) + numberOf(opening.width) }))
      .sort((one, other) => one.start - other.start);
    for (const opening of here) {
      const start = Math.min(Math.max(opening.start, from), length);
      const end = Math.min(Math.max(opening.end, start), length);
      if (start > from) solid.push([along(from), along(start)]);
      if (end > start) gaps.push({ kind: opening.kind, ends: [along(start), along(end)] });
      from = Math.max(from, end);
    }
    if (from < length) solid.push([along(from), along(length)]);
  }
  return { solid, gaps };
}

const BAR_LENGTHS = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500];

// A window onto the plan: the metres at its middle, and how many px a metre takes.
export class Window {
  constructor(bounds, width, height, edge = 30) {
    Object.assign(this, { bounds, width, height, edge });
    this.whole();
  }

  whole() {
    const { left, right, bottom, top } = this.bounds;
    this.middle = [(left + right) / 2, (bottom + top) / 2];
    this.fitting = Math.min(
      (this.width - 2 * this.edge) / Math.max(right - left, 0.5),
      (this.height - 2 * this.edge) / Math.max(top - bottom, 0.5),
    );
    this.scale = this.fitting;
  }

  at([x, y]) {
    return [this.width / 2 + (x - this.middle[0]) * this.scale, this.height / 2 - (y - this.middle[1]) * this.scale];
  }

  metres([across, down]) {
    return [this.middle[0] + (across - this.width / 2) / this.scale, this.middle[1] - (down - this.height / 2) / this.scale];
  }

  zoom(factor) {
    this.scale = Math.min(Math.max(this.scale * factor, this.fitting / 4), Math.max(this.fitting * 64, 800));
  }

  pan(right, up) {
    const { left, right: end, bottom, top } = this.bounds;
    const share = 0.25;
    this.middle = [
      Math.min(Math.max(this.middle[0] + (right * this.width * share) / this.scale, left), end),
      Math.min(Math.max(this.middle[1] + (up * this.height * share) / this.scale, bottom), top),
    ];
  }

  show(point) {
    const [across, down] = this.at(point);
    const inside = across > this.edge && across < this.width - this.edge && down > this.edge && down < this.height - this.edge;
    if (!inside) this.middle = [...point];
    return !inside;
  }

  barLength() {
    return BAR_LENGTHS.filter((length) => length * this.scale <= 120).at(-1) ?? BAR_LENGTHS[0];
  }
}
