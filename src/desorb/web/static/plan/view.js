// The plan on the screen: walls as ink lines with gaps, zones by a thin label, marks at the spots, and a list twin.
//
//   drawPlan(element, pack, options) -> {show(id), update(pack, taken), redraw(), view, element}
//   options: onSpot(id)      a spot was opened: Enter, a tap, or its line in the list
//            current         id of the spot that is marked as the current one
//            list = true     the list beside the plan; false leaves it out
//            taken = {}      what this device has read since: spot -> {values, scale, instrument, taken_at, clipped}
//            picture         address of the picture under the plan (an object URL when there is no network)
//            onTap([x, y])   a tap in metres; returning true takes it, else the nearest spot is opened
//            overlay(view)   SVG elements drawn over the plan, for the editor
//            bare            a picture alone: no ruler, no legend, no words about keys
//            tallest = 0.6   of the height of the screen that the plan may take
//            listAt          another element for legend and list
// One tab stop for the plan, one for the list. Arrows move in walking order, Enter opens, Esc leaves. Only single taps.

import { Window, boundsOf, cornersOf, numberOf, wallsOf } from "./geometry.js";
import { describeSpots, drawMark, make, svg } from "./marks.js";
import { legend, listOf, roving } from "./twin.js";

const NEAR = 26; // px round a tap
const TEXT = 14; // px
let plans = 0;

export function drawPlan(element, pack, options = {}) {
  return new Plan(element, pack, options);
}

class Plan {
  constructor(element, pack, options) {
    Object.assign(this, { element, pack, options, name: `plan-${(plans += 1)}`, current: options.current ?? "" });
    this.taken = options.taken ?? {};
    this.frame = make("div", { class: "plan-frame", ...(options.bare ? { role: "img" } : { role: "listbox", tabindex: "0" }) });
    this.choice = make("div", { class: "plan-choice", role: "group", "aria-label": "Spots close to the tap", hidden: true });
    this.note = make("p", { class: "plan-note", role: "status" });
    this.twin = make("div", { class: "plan-twin" });
    element.classList.add("plan");
    element.replaceChildren(this.controls(), this.frame, this.choice, this.note);
    const keys = "Arrow keys go from spot to spot in walking order, Enter opens, Esc leaves the plan. Blank: nothing was read there.";
    if (!options.bare) (options.listAt ?? element).append(legend(), make("p", { class: "hint plan-keys" }, keys), this.twin);
    this.frame.addEventListener("keydown", (event) => this.onKey(event));
    this.frame.addEventListener("click", (event) => this.onClick(event));
    this.update(pack, this.taken);
    new ResizeObserver(() => this.frame.clientWidth && this.frame.clientWidth !== this.view.width && this.fit()).observe(this.frame);
  }

  controls() {
    const act = (words, label, change) =>
      make("button", { type: "button", class: "quiet", "aria-label": label, onclick: () => { change(this.view); this.redraw(); } }, words);
    const bar = make(
      "div", { class: "plan-controls", role: "toolbar", "aria-label": "What part of the plan is shown" },
      act("+", "Larger", (view) => view.zoom(1.5)), act("\u2212", "Smaller", (view) => view.zoom(1 / 1.5)),
      act("\u2190", "Show what lies left", (view) => view.pan(-1, 0)), act("\u2192", "Show what lies right", (view) => view.pan(1, 0)),
      act("\u2191", "Show what lies above", (view) => view.pan(0, 1)), act("\u2193", "Show what lies below", (view) => view.pan(0, -1)),
      act("All", "Show the whole plan", (view) => view.whole()),
    );
    roving(bar, [...bar.children], ["ArrowLeft", "ArrowRight"]);
    return bar;
  }

  update(pack, taken = this.taken) {
    Object.assign(this, { pack, taken, spots: describeSpots(pack, taken) });
    this.placed = this.spots
      .map((each) => ({ ...each, point: [numberOf(each.spot.x), numberOf(each.spot.y)] }))
      .filter((each) => each.point[0] !== null && each.point[1] !== null);
    const without = this.spots.length - this.placed.length;
    this.frame.setAttribute("aria-label", `Plan with ${count(this.placed.length, "spot")}${without ? `; ${count(without, "spot")} without a place on it` : ""}`);
    if (this.options.list !== false) this.list = listOf(this, (id) => this.open(id));
    this.fit();
  }

  fit() {
    const points = this.placed.map((each) => each.point);
    for (const each of [...(this.pack.rooms ?? []), ...(this.pack.zones ?? [])]) points.push(...cornersOf(each.outline));
    const under = this.pictureArea();
    if (under) points.push([under.x, under.y], [under.x + under.width, under.y + under.height]);
    const bounds = boundsOf(points);
    const width = this.frame.clientWidth || 340;
    const shape = Math.max(bounds.top - bounds.bottom, 0.5) / Math.max(bounds.right - bounds.left, 0.5);
    const height = Math.round(Math.min(Math.max(width * shape + 30, 220), Math.max(window.innerHeight * (this.options.tallest ?? 0.6), 220), 620));
    const before = this.view;
    this.view = new Window(bounds, width, height);
    if (before && before.scale !== before.fitting) Object.assign(this.view, { scale: before.scale, middle: before.middle });
    this.redraw();
  }

  pictureArea() {
    const picture = this.pack.picture;
    const scale = numberOf(picture?.metres_per_pixel);
    if (!picture?.sha256 || !scale) return null;
    return { x: numberOf(picture.x) ?? 0, y: numberOf(picture.y) ?? 0, width: picture.width * scale, height: picture.height * scale };
  }

  redraw() {
    const { view } = this;
    this.half = this.placed.length > 60 && view.scale < view.fitting * 1.5 ? 4 : 7;
    this.places = this.placed.map((each) => view.at(each.point));
    this.labels = this.places.map(([x, y]) => [x - this.half, y - this.half, x + this.half, y + this.half]);
    this.written = new Set();
    const drawing = svg("svg", { viewBox: `0 0 ${view.width} ${view.height}`, width: "100%", height: view.height, role: "none", focusable: "false" });
    drawing.append(svg("g", { "aria-hidden": "true" }, ...this.under(), ...this.zones(), ...this.rooms()));
    drawing.append(...this.marks());
    drawing.append(svg("g", { "aria-hidden": "true" }, ...this.ruler(), ...(this.options.overlay?.(view) ?? [])));
    this.frame.replaceChildren(drawing);
    this.mind();
  }

  under() {
    const area = this.pictureArea();
    if (!area) return [];
    const [left, top] = this.view.at([area.x, area.y + area.height]);
    const { case: { id }, picture } = this.pack;
    const href = this.options.picture ?? `/api/cases/${id}/photos/${picture.sha256}`;
    return [svg("image", { class: "plan-picture", href, x: left, y: top, width: area.width * this.view.scale, height: area.height * this.view.scale, preserveAspectRatio: "none" })];
  }

  path(points, close = "") {
    return points.map((point, index) => (index ? "L" : "M") + this.view.at(point).map((part) => part.toFixed(1)).join(" ")).join("") + close;
  }

  zones() {
    return (this.pack.zones ?? []).flatMap((zone) => {
      const corners = cornersOf(zone.outline);
      if (corners.length < 3) return [];
      return [svg("path", { class: "plan-zone", d: this.path(corners, "Z") }), ...this.label(corners, zone, "plan-zone-name")];
    });
  }

  rooms() {
    return (this.pack.rooms ?? []).flatMap((room) => {
      const corners = cornersOf(room.outline);
      if (corners.length < 3) return [];
      const { solid, gaps } = wallsOf(corners, room.openings);
      const lines = [svg("path", { class: "plan-wall", d: solid.map((piece) => this.path(piece)).join("") })];
      for (const { kind, ends } of gaps) {
        lines.push(svg("path", { class: "plan-gap", d: this.path(ends) }));
        if (kind === "window") lines.push(svg("path", { class: "plan-glass", d: this.path(ends) }));
      }
      return [...lines, ...this.label(corners, room, "plan-room-name")];
    });
  }

  // The name of a part, in its upper left corner or as near as it fits; the same name is not written twice.
  label(corners, { id, words }, look) {
    const places = corners.map((corner) => this.view.at(corner));
    const [xs, ys] = [0, 1].map((axis) => places.map((place) => place[axis]));
    const left = Math.max(Math.min(...xs), 0) + 6;
    const room = (Math.min(Math.max(...xs), this.view.width) - left - 4) / (TEXT * 0.55);
    const text = [words, id].find((each) => each && each.length <= room);
    if (!text || this.written.has(text)) return [];
    for (let down = Math.max(Math.min(...ys), 0) + 16; down < Math.max(...ys) - 4; down += 16) {
      if (!this.free([left, down - 12, left + text.length * TEXT * 0.55, down + 3])) continue;
      this.written.add(text);
      return [svg("text", { class: look, x: left, y: down }, text)];
    }
    return [];
  }

  free(box) {
    const [left, top, right, bottom] = box;
    if (left < 0 || top < 0 || right > this.view.width || bottom > this.view.height) return false;
    if (!this.labels.every(([a, b, c, d]) => right <= a || left >= c || bottom <= b || top >= d)) return false;
    this.labels.push(box);
    return true;
  }

  marks() {
    const { half, places } = this;
    const order = [...this.placed.keys()].sort((one, other) => (this.placed[other].id === this.current) - (this.placed[one].id === this.current));
    const names = new Map(order.map((index) => [index, this.nameAt(places[index], this.placed[index].id, half)]));
    return this.placed.map((each, index) => {
      const here = each.id === this.current;
      const said = { role: "option", id: `${this.name}-${index}`, "aria-selected": String(here), "aria-label": sentenceOf(each), "data-spot": each.id };
      const group = svg("g", { ...said, transform: `translate(${places[index].map((part) => part.toFixed(1)).join(" ")})` });
      if (here) group.append(svg("circle", { class: "plan-here", r: half + 7 }));
      group.append(drawMark(each.shape, each.side, half), ...(names.get(index) ?? []));
      return group;
    });
  }

  nameAt([x, y], words, half) {
    const text = words.length > 14 ? `${words.slice(0, 13)}\u2026` : words;
    const wide = text.length * TEXT * 0.58;
    const low = TEXT * 0.35;
    for (const [across, down, anchor, from] of [
      [half + 5, low, "start", 0], [0, -half - 5, "middle", wide / 2], [0, half + 15, "middle", wide / 2], [-half - 5, low, "end", wide],
    ]) {
      const left = x + across - from;
      if (this.free([left, y + down - 11, left + wide, y + down + 3])) return [svg("text", { class: "plan-spot-name", x: across, y: down, "text-anchor": anchor }, text)];
    }
    return [];
  }

  ruler() {
    if (this.options.bare) return [];
    const length = this.view.barLength();
    const base = this.view.height - 22;
    const parts = [
      svg("path", { class: "plan-ruler", d: `M14 ${base - 5}V${base}H${14 + length * this.view.scale}V${base - 5}` }),
      svg("text", { class: "plan-ruler-words", x: 14, y: base + 15 }, `0 to ${length} m`),
    ];
    const north = numberOf(this.pack.north);
    if (north === null) return parts;
    const turn = `translate(${this.view.width - 66} ${base}) rotate(${north})`;
    return [...parts, svg("path", { class: "plan-ruler", d: "M0 12V-12M-4 -6L0 -12L4 -6", transform: turn }), svg("text", { class: "plan-ruler-words", x: this.view.width - 48, y: base + 5 }, "north")];
  }

  mind() {
    const index = this.placed.findIndex((each) => each.id === this.current);
    if (index >= 0) this.frame.setAttribute("aria-activedescendant", `${this.name}-${index}`);
    else this.frame.removeAttribute("aria-activedescendant");
    this.list?.mark(this.current);
  }

  show(id) {
    this.current = id;
    const spot = this.placed.find((each) => each.id === id);
    if (spot) this.view.show(spot.point);
    this.note.textContent = spot ? sentenceOf(spot) : "";
    this.redraw();
  }

  open(id) {
    this.choice.hidden = true;
    this.show(id);
    this.options.onSpot?.(id);
  }

  onKey(event) {
    const last = this.placed.length - 1;
    const at = this.placed.findIndex((each) => each.id === this.current);
    const to = { ArrowRight: Math.min(at + 1, last), ArrowDown: Math.min(at + 1, last), ArrowLeft: Math.max(at - 1, 0), ArrowUp: Math.max(at - 1, 0), Home: 0, End: last }[event.key];
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    if (to !== undefined && last >= 0) this.show(this.placed[to].id);
    else if ((event.key === "Enter" || event.key === " ") && at >= 0) this.open(this.current);
    else if (event.key === "Escape") this.leave();
    else return;
    event.preventDefault();
  }

  leave() {
    const after = this.twin.querySelector(".plan-after") ?? this.element;
    after.setAttribute("tabindex", "-1");
    after.focus();
  }

  onClick(event) {
    const box = this.frame.getBoundingClientRect();
    const tap = [event.clientX - box.left - this.frame.clientLeft, event.clientY - box.top - this.frame.clientTop];
    this.choice.hidden = true;
    if (this.options.onTap?.(this.view.metres(tap))) return;
    const near = this.placed
      .map((each) => ({ id: each.id, said: sentenceOf(each), away: distance(this.view.at(each.point), tap) }))
      .filter((each) => each.away <= NEAR)
      .sort((one, other) => one.away - other.away);
    if (near.length === 1) this.open(near[0].id);
    else if (near.length > 1) this.ask(near.slice(0, 6));
  }

  ask(near) {
    this.choice.replaceChildren(
      make("p", {}, "Several spots are close to this tap. Which one?"),
      ...near.map((each) => make("button", { type: "button", "aria-label": each.said, onclick: () => this.open(each.id) }, each.id)),
    );
    this.choice.hidden = false;
    this.choice.querySelector("button").focus();
  }
}

function distance([x, y], [otherX, otherY]) {
  return Math.hypot(x - otherX, y - otherY);
}

function count(number, one) {
  return `${number} ${number === 1 ? one : `${one}s`}`;
}

export function sentenceOf(each) {
  return [each.id, each.place, each.value, each.words, each.time].filter(Boolean).join("; ");
}
