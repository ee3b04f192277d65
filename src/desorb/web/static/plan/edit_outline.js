// The corners of a room or a zone: by the cross-hair, by wall lengths, or typed. What is typed in the field counts.

import { cornersOf } from "./geometry.js";
import { metresText } from "./edit_cross.js";
import { svg } from "./marks.js";

const SNAP = 14; // px
const WAYS = { right: [1, 0], left: [-1, 0], up: [0, 1], down: [0, -1] };
const WALL = /(\d+(?:[.,]\d+)?|[.,]\d+)\s*m?\s*(right|left|up|down)/gi;

export function areaOf(corners) {
  let twice = 0;
  for (const [index, [x, y]] of corners.entries()) {
    const [nextX, nextY] = corners[(index + 1) % corners.length];
    twice += x * nextY - nextX * y;
  }
  return Math.abs(twice) / 2;
}

// "4.20 right, 3.10 up" -> [[dx, dy], ...], or null when anything in it is not understood.
export function wallsFrom(text) {
  const walls = [...text.matchAll(WALL)].map(([, length, way]) => WAYS[way.toLowerCase()].map((part) => part * Number(length.replace(",", "."))));
  const rest = text.replace(WALL, "").replace(/[\s,;.]|\bthen\b|\band\b/gi, "");
  return walls.length && rest === "" ? walls : null;
}

export class Outline {
  constructor(form, editor) {
    Object.assign(this, { form, editor });
    this.field = form.elements.outline;
    this.measure = form.querySelector("[data-part=measure]");
    form.querySelector("[data-act=add-walls]").addEventListener("click", () => this.addWalls());
    form.elements.walls.addEventListener("keydown", (event) => {
      if (event.key !== "Enter") return;
      event.preventDefault();
      this.addWalls();
    });
    this.field.addEventListener("input", () => this.changed());
  }

  get lines() {
    return this.field.value.split("\n").map((line) => line.trim().replace(/\s+/g, " ")).filter(Boolean);
  }

  get corners() {
    return cornersOf(this.lines);
  }

  set(lines) {
    this.field.value = lines.join("\n");
    this.changed();
  }

  add(points) {
    this.set([...this.lines, ...points.map((point) => point.map(metresText).join(" "))]);
    this.editor.cross.put(points.at(-1));
  }

  back() {
    this.set(this.lines.slice(0, -1));
  }

  addWalls() {
    const walls = wallsFrom(this.form.elements.walls.value);
    if (!walls) {
      this.editor.refuse(this.form, "These walls were not understood. Next: write lengths with right, left, up or down, such as 4.20 right, 3.10 up.");
      return;
    }
    const before = this.corners;
    const points = before.length ? [] : [this.editor.cross.point ?? [0, 0]];
    for (const [across, up] of walls) {
      const [x, y] = points.at(-1) ?? before.at(-1);
      points.push([x + across, y + up]);
    }
    const [first] = [...before, ...points];
    if (Math.hypot(points.at(-1)[0] - first[0], points.at(-1)[1] - first[1]) < 0.001 && points.length > 1) points.pop();
    this.form.elements.walls.value = "";
    this.add(points);
  }

  // A tap near a corner is meant for that corner; one nearly in line with the last corner makes a right angle.
  snapped(point, view) {
    const near = (one, other) => Math.hypot(one[0] - other[0], one[1] - other[1]) * view.scale <= SNAP;
    const rooms = (this.editor.pack.rooms ?? []).flatMap((room) => cornersOf(room.outline));
    const corner = [...this.corners, ...rooms].find((each) => near(each, point));
    if (corner) return corner;
    return point.map((part, axis) => {
      const line = [this.corners.at(-1), this.corners[0]].find((each) => each && Math.abs(each[axis] - part) * view.scale <= SNAP);
      return line ? line[axis] : Math.round(part * 100) / 100;
    });
  }

  changed() {
    this.measure.textContent = this.words();
    this.editor.plan.redraw();
  }

  words() {
    const { corners } = this;
    if (this.lines.length !== corners.length) return "A line is not two numbers. Next: write x and y in metres, such as 4.20 3.10.";
    if (corners.length < 3) return corners.length ? `${corners.length} of at least 3 corners.` : "No corner yet.";
    const walls = corners.map((corner, index) => {
      const next = corners[(index + 1) % corners.length];
      return `wall ${index + 1} ${metresText(Math.hypot(next[0] - corner[0], next[1] - corner[1]))} m`;
    });
    return `${corners.length} corners, ${areaOf(corners).toFixed(2)} m\u00b2: ${walls.join(", ")}.`;
  }

  drawn(view) {
    const { corners } = this;
    if (!corners.length) return [];
    const places = corners.map((corner) => view.at(corner));
    const line = `M${places.map((place) => place.join(" ")).join("L")}`;
    const parts = [svg("path", { class: "plan-draft", d: line })];
    if (corners.length > 2) parts.push(svg("path", { class: "plan-draft-end", d: `M${places.at(-1).join(" ")}L${places[0].join(" ")}` }));
    for (const [index, [x, y]] of places.entries()) {
      parts.push(svg("circle", { class: "plan-draft-corner", cx: x, cy: y, r: 4 }));
      if (corners.length < 3 && index === places.length - 1) break;
      const [nextX, nextY] = places[(index + 1) % places.length];
      parts.push(svg("text", { class: "plan-wall-number", x: (x + nextX) / 2, y: (y + nextY) / 2 + 5, "text-anchor": "middle" }, String(index + 1)));
    }
    return parts;
  }
}
