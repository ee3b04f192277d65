// One sweep: instrument and scale, what the instrument itself showed, and what carries over from spot to spot.

import { button, choice, field, fill, h } from "./dom.js";
import { inVisit, isDone } from "./job.js";
import { count, moment } from "./words.js";

const PAUSE = 60 * 60 * 1000; // ms, as in core/meter_state.py: after it the scale is confirmed again

export const instrumentOf = (job, sweep) => job.instruments.find(({ id }) => id === sweep?.instrument);
export const scaleOf = (job, sweep) => instrumentOf(job, sweep)?.scales.find(({ key }) => key === sweep.scale);
export const unitWords = (scale) => (scale ? `${scale.key}, ${scale.unit || "no unit"}` : "");

export const newSweep = (visit) => ({
  visit, instrument: "", scale: "", covering: "", preparation: "as found", finish: "", depth_from: "", depth_to: "", temperature: "",
  species: "", confirmed: false, when: "start", last: "",
});

// Must the scale be confirmed before the next reading?
export const mustConfirm = (sweep) => !sweep.confirmed || (sweep.last !== "" && Date.now() - new Date(sweep.last).getTime() > PAUSE);

export const contextWords = (sweep) => [
  sweep.covering ? (["bare", "none"].includes(sweep.covering) ? "bare" : `through ${sweep.covering}`) : "covering not said yet",
  sweep.preparation, sweep.finish, sweep.depth_from && `${sweep.depth_from} to ${sweep.depth_to} mm deep`,
  sweep.temperature && `material ${sweep.temperature} °C`, sweep.species,
].filter(Boolean).join(", ");

// What belongs to one instrument and scale does not carry over to another: a pad has no depth of pins.
const OF_THE_INSTRUMENT = { finish: "", depth_from: "", depth_to: "", temperature: "", species: "" };

// Choose instrument and scale, then confirm what the instrument itself shows. `done(shown)` when it was confirmed.
export function sweepSetup({ job, sweep, change, done, redraw, cancel }) {
  const instrument = instrumentOf(job, sweep);
  const scale = scaleOf(job, sweep);
  const parts = [choice("Instrument", job.instruments.map(({ id, words }) => [id, `${id}: ${words}`]), sweep.instrument, (id) => {
    const { scales } = job.instruments.find((each) => each.id === id);
    change({ instrument: id, scale: scales.length === 1 ? scales[0].key : "", confirmed: false, ...OF_THE_INSTRUMENT });
    redraw();
  })];
  if (instrument && !instrument.fit) parts.push(h("p.said-problem", { role: "note" }, `${instrument.id}: ${instrument.why_not} Readings can be kept; a pass cannot rest on them.`));
  if (instrument) {
    parts.push(choice("Scale", instrument.scales.map((each) => [each.key, unitWords(each)]), sweep.scale, (key) => {
      change({ scale: key, confirmed: false, ...OF_THE_INSTRUMENT });
      redraw();
    }));
  }
  if (scale) parts.push(confirmation(scale, instrument, sweep, done));
  if (cancel) parts.push(h(".row-of-keys", {}, button("Back to the round", cancel, "quiet")));
  return h("section.panel", { "aria-label": "Instrument and scale" }, parts);
}

function confirmation(scale, instrument, sweep, done) {
  const face = scale.face || scale.key;
  let other = "";
  const something = field("It shows something else", "", (text) => (other = text));
  const differs = h("p.said-problem", { role: "alert" });
  const keepOn = button("Keep on: the readings are marked", () => done(other.trim()), "quiet");
  keepOn.hidden = true;
  const keep = button("Keep what it shows", () => {
    if (!other.trim()) return;
    fill(differs, `${instrument.id} shows “${other.trim()}”, and the readings would be written as ${scale.key}. Choose the scale it shows, or keep on: no status rests on them then.`);
    keepOn.hidden = false;
    keepOn.focus();
  }, "quiet");
  const why = { start: "", pause: " after the pause", change: " after the change" }[sweep.when] ?? "";
  return h("section", {}, h("h2", {}, `Look at ${instrument.id}: what does it show as its scale${why}?`),
    h(".next-place", {}, button(`It shows “${face}”`, () => done(face), "next")),
    h("details", {}, h("summary", {}, "It shows something else"), something, keep, differs, keepOn));
}

export const shownEntry = (sweep, shown) => ({ visit: sweep.visit, instrument: sweep.instrument, scale: sweep.scale, shown, at: moment(), when: sweep.when });

// What carries over: covering and preparation first, the rest below. A change is written with the next reading.
export function contextPanel({ job, sweep, lastTime, change, close, setup, pause }) {
  const coverings = [...new Set([lastTime, ...job.pack.coverings].filter(Boolean))];
  const isOther = sweep.covering.startsWith("other:");
  const text = (label, name, attributes) => field(label, sweep[name], (value) => change({ [name]: value.trim() }), attributes);
  return h("section.panel", { "aria-label": "What carries over" },
    choice(lastTime ? `What lies on it (last visit: ${lastTime})` : "What lies on it", coverings, sweep.covering, (covering) => change({ covering })),
    field("Another covering", isOther ? sweep.covering.slice(6).trim() : "", (words) => change({ covering: words.trim() ? `other: ${words.trim()}` : "" })),
    choice("Preparation", [...new Set([sweep.preparation, ...job.pack.preparations])], sweep.preparation, (preparation) => change({ preparation })),
    h(".next-place", {}, button("Back to the value", close, "next")),
    h("details", {}, h("summary", {}, "Depth, material and finish"),
      text("Another preparation", "preparation"), text("Finish", "finish"),
      text("Depth from, in mm", "depth_from", { inputmode: "decimal" }), text("Depth to, in mm", "depth_to", { inputmode: "decimal" }),
      text("Temperature of the material, in °C", "temperature", { inputmode: "decimal" }), text("Species of wood", "species")),
    h(".row-of-keys", {}, button("Another instrument or scale", setup, "quiet"), button("Pause the sweep", pause, "quiet")));
}

const REASONS = ["no access", "goods or furniture in the way", "contacts do not touch", "no steady figure", "the surface would be damaged", "a gate is not answered"];

// Why a spot gave no reading. It stays visible as missing, with the reason.
export function reasonPanel({ spot, done, cancel }) {
  let words = "";
  return h("section.panel", { "aria-label": `Why ${spot.id} gave no reading` },
    h("h2", {}, `Why is there no reading at ${spot.id}?`),
    h(".reasons", {}, REASONS.map((reason) => button(reason, () => done(reason)))),
    field("Another reason", "", (text) => (words = text)),
    h(".row-of-keys", {}, button("Keep this reason", () => words.trim() && done(words.trim()), "quiet"), button("Back to the value", cancel, "quiet")));
}

export function endPanel({ order, sweep, back, pick, setup }) {
  const open = order.filter((spot) => !isDone(spot, sweep));
  const read = order.filter((spot) => inVisit(spot, sweep.visit, sweep.scale, sweep.instrument).length).length;
  return h("section.panel", { "aria-label": "End of the round" },
    h("h2", {}, open.length ? `The round is at its end; ${count(open.length, "spot")} not read` : "The round is at its end"),
    h("p", { role: "status" }, `${read} read on ${sweep.scale}.${open.length ? ` Not read: ${open.map(({ id }) => id).join(", ")}.` : ""}`),
    h(".row-of-keys", {}, button("Another instrument or scale", setup), h("a.button", { href: `#${back}/spot` }, "A new spot")),
    h(".next-place", {}, open.length ? button(`Go to ${open[0].id}`, () => pick(open[0]), "next") : h("a.button.next", { href: `#${back}` }, "To the tasks of the visit")));
}
