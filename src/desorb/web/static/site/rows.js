// The rows of the round: each spot with its last up to three visits beside, and the value of this visit or a small dot.
// A value is never copied down: what was not read in this visit says so.

import { h, icon } from "./dom.js";
import { before, inVisit } from "./job.js";
import { stateMark } from "./marks.js";
import { contextWords, unitWords } from "./sweep.js";

const isEnd = (reading) => reading.values.some((value) => /^[<>]=?/.test(value));

const placeOf = (spot) => spot.words || `${spot.zone}, ${spot.element}`;

// Values of the last visits, each with covering and scale; said once where all share them. In the row that is being
// typed only another scale is said here: the covering stands below, with what was there before.
function past(spot, sweep, isTyping = false) {
  const visits = before(spot, sweep.visit, sweep.scale, sweep.instrument);
  const isSame = (reading) => reading.scale === sweep.scale && reading.instrument === sweep.instrument;
  const method = (reading) => {
    const scale = `${reading.scale} (${reading.instrument})`;
    return isTyping ? (isSame(reading) ? "" : scale) : `${reading.covering}, ${scale}`;
  };
  const shared = new Set(visits.map(method)).size === 1;
  const words = (reading) => method(reading) && h("span.method", {}, ` ${method(reading)}`);
  const values = visits.map((reading) => h("span.past", {}, `${reading.visit} `, isEnd(reading) && icon("clipped"),
    h("b", {}, reading.values.join(" · ")), !shared && words(reading), " "));
  return visits.length ? [...values, shared && words(visits[0])] : "no earlier reading";
}

function thisVisit(spot, sweep, pending) {
  if (pending) return h("span.now", {}, h("b", {}, pending), " not saved yet");
  const [reading] = inVisit(spot, sweep.visit, sweep.scale, sweep.instrument);
  if (reading) {
    const state = reading.pending ? "not saved yet" : reading.local && stateMark(reading.local);
    return h("span.now", {}, isEnd(reading) && icon("clipped"), h("b", {}, reading.values.join(" · ")), " ", state);
  }
  const missing = spot.notRead.filter((entry) => entry.payload.visit === sweep.visit && (!sweep.scale || entry.payload.scale === sweep.scale)).at(-1);
  if (missing) return h("span.now", {}, `no reading: ${missing.payload.why} `, stateMark(missing));
  return h("span.now.not-read", {}, icon("not read"), " not read this visit");
}

export function restingRow(spot, sweep, { pending, pick }) {
  return h("li.row", { "data-spot": spot.id }, h("button.pick", { type: "button", onclick: () => pick(spot) },
    h("span.name", {}, h("b", {}, spot.id), ` ${placeOf(spot)}${spot.role === "control" ? ", control" : ""}`),
    h("span.pasts", {}, past(spot, sweep)), thisVisit(spot, sweep, pending)));
}

// The row that is being typed in. Returns {row, input, note, say}.
export function typingRow(spot, sweep, scale, { text, repeats, type, key, openContext }) {
  const label = `Value at ${spot.id}, ${placeOf(spot)}, ${unitWords(scale)}`;
  const input = h("input.value", {
    type: "text", id: "value", inputmode: "decimal", autocomplete: "off", autocapitalize: "off", spellcheck: "false", enterkeyhint: "next",
    "aria-describedby": "value-note", oninput: () => type(input.value), onkeydown: key,
  });
  input.value = text;
  const note = h("p.note", { id: "value-note", role: "status" });
  const kept = h("span.repeats", {});
  const row = h("li.row.typing", { "data-spot": spot.id, "aria-current": "true" },
    h("button.pick", { type: "button", onclick: openContext },
      h("span.name", {}, h("b", {}, spot.id), ` ${placeOf(spot)}${spot.role === "control" ? ", control" : ""}`),
      h("span.pasts", {}, past(spot, sweep, true)),
      h("span.context", {}, contextWords(sweep), h("span.visually-hidden", {}, ". Change what carries over"))),
    h(".valuebox", {}, h("label", { for: "value" }, h("span", { "aria-hidden": "true" }, scale?.key, h(`span${scale?.unit ? "" : ".no-unit"}`, {}, `, ${scale?.unit || "no unit"}`)), h("span.visually-hidden", {}, label)),
      kept, input),
    note);
  const say = (words, isProblem = false) => {
    if (note.textContent !== words) note.textContent = words;
    note.classList.toggle("said-problem", isProblem);
    row.classList.toggle("noted", words !== "");
    input.setAttribute("aria-invalid", String(isProblem));
  };
  const showRepeats = (values) => (kept.textContent = values.length ? `${values.join(" · ")} ·` : "");
  showRepeats(repeats);
  return { row, input, say, showRepeats };
}
