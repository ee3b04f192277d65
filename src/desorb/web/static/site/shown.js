// What the office worked out, as it is shown everywhere: cautions first, then the verdict, and below it what it rests on.

import { h } from "./dom.js";
import { count } from "./words.js";

const list = (lines) => h("ul", {}, lines.map((words) => h("li", {}, words)));
const part = (title, lines, say) => lines.length > 0 && [h("h2", {}, title), list(lines.map(say))];

// Wide rows are said one by one: the first cell is their name.
const tableRows = ({ columns, rows }, say) => h("ul.written", {}, rows.map((row) => h("li", {}, h("strong", {}, `${columns[0]} ${say(row[0])}`),
  row.slice(1).map((cell, at) => cell && h("p", {}, `${columns[at + 1]}: ${say(cell)}`)))));

export const verdict = (shown, say) => [
  shown.cautions.length > 0 && h("section.gate.cautions", { "aria-label": "See to this first" }, h("h2", {}, "See to this first"), list(shown.cautions.map(say))),
  h("p", {}, shown.status && h("strong", {}, `${say(shown.status)}. `), say(shown.words)),
];

export const steps = (shown, say) => [part("Plan", shown.plan, say), part("Next", shown.next_steps, say)];

export const grounds = (shown, say) => [
  shown.tables.map((table) => tableRows(table, say)),
  shown.plots.map((plot) => [h("h2", {}, plot.title), plot.lines.map((line) => h("p", {}, `${line.label} (${plot.x}; ${plot.y}): ${line.points.map(([x, y]) => `${x}; ${y}`).join(" · ")}`))]),
  part("Notes", shown.notes, say),
  shown.rests_on.length > 0 && h("details", {}, h("summary", {}, `Rests on ${count(shown.rests_on.length, "line")} of the record`), h("p", {}, shown.rests_on.join(", "))),
];
