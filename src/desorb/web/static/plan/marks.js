// What stands at a spot: shape and lightness on the plan, and the same in words for the list and the ear.

const SVG = "http://www.w3.org/2000/svg";

export function svg(name, attributes = {}, ...children) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.append(...children);
  return element;
}

export function make(name, attributes = {}, ...children) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key === "onclick") element.addEventListener("click", value);
    else if (value !== false) element.setAttribute(key, value === true ? "" : value);
  }
  element.append(...children);
  return element;
}

// A scale whose display has no unit says so; it never gets a percent sign.
function unitWords(scale) {
  return scale ? scale.unit || "no unit" : "";
}

// Everything a reader is told about a spot, for plan and list alike.
// `taken`: what this device has read since the pack was made, by spot: {values, scale, taken_at, instrument}.
export function describeSpots(pack, taken = {}) {
  const visit = pack.visits?.at(-1)?.id ?? "";
  const zones = new Map((pack.zones ?? []).map((zone) => [zone.id, zone.words || zone.id]));
  const scales = new Map();
  for (const instrument of pack.instruments ?? []) {
    for (const scale of instrument.scales ?? []) scales.set(`${instrument.id} ${scale.key}`, scale);
  }
  return (pack.spots ?? []).map((spot) => {
    const here = taken[spot.id];
    const last = here ?? spot.last?.[0];
    const readNow = here !== undefined || (last !== undefined && last.visit === visit);
    const lines = here ? [here] : (spot.last ?? []).filter((line) => line.visit === last.visit);
    const value = lines.map((line) => `${line.values.join(" ")} ${unitWords(scales.get(`${line.instrument} ${line.scale}`))}`.trim()).join("; ");
    const open = readNow ? lines.find((line) => line.clipped) : undefined;
    const place = [zones.get(spot.zone) ?? spot.zone, spot.element].filter(Boolean).join(", ");
    return {
      id: spot.id, place, spot, value: value || "no value",
      side: open ? (/^[<\u2264]/.test(open.values[0] ?? "") ? "bottom" : "top") : "",
      scale: lines.map((line) => line.scale).join("; "),
      covering: last?.covering ?? "",
      time: (last?.taken_at ?? "").slice(0, 16).replace("T", " "),
      shape: shapeOf(spot, here !== undefined, readNow),
      words: wordsOf(spot, here !== undefined, readNow, value !== "") + (open ? ", at the end of the scale" : ""),
    };
  });
}

function shapeOf(spot, here, readNow) {
  if (spot.role === "control") return "triangle";
  if (!readNow) return "dot";
  if (here) return "ring";
  return { "above control": "square", "no higher than control": "circle" }[spot.status] ?? "ring";
}

function wordsOf(spot, here, readNow, read) {
  const stale = read ? "not read this visit" : "not read yet";
  if (spot.role === "control") return readNow ? "control" : `control, ${stale}`;
  if (here) return "read now, not compared yet";
  if (!readNow) return stale;
  return spot.status || "cannot say";
}

export function drawMark(shape, side, half = 7) {
  const group = svg("g");
  if (shape === "square") group.append(svg("rect", { class: "plan-above", x: -half, y: -half, width: 2 * half, height: 2 * half }));
  else if (shape === "triangle") group.append(svg("path", { class: "plan-control", d: `M0 ${-half - 1}L${half + 1} ${half - 1}H${-half - 1}Z` }));
  else if (shape === "dot") group.append(svg("circle", { class: "plan-not-read", r: 3 }));
  else group.append(svg("circle", { class: shape === "circle" ? "plan-no-higher" : "plan-cannot-say", r: half }));
  if (side) {
    const at = side === "top" ? -half - 4 : half + 4;
    group.append(svg("path", { class: "plan-end", d: `M${-half} ${at}H${half}` }));
  }
  return group;
}

export const LEGEND = [
  ["square", "", "above control"],
  ["circle", "", "no higher than control"],
  ["ring", "", "cannot say"],
  ["dot", "", "not read this visit"],
  ["triangle", "", "control"],
  ["ring", "top", "at the end of its scale"],
];
