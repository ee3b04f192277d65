// Drying units at the visit: what stands here, the air at inlet and outlet, and the counters. What is not read is named.

import { field, h } from "../dom.js";
import { form } from "../form.js";
import { airOf } from "../air.js";
import { newKey, payload } from "../kinds.js";
import { asNumber, readValue } from "../numbers.js";
import { entryWords, isToday, moment } from "../words.js";
import { addressOf } from "./methods.js";

const COUNTERS = [["hours", "Hour meter, in h", "hours"], ["collected", "Collected since the last visit, in litres", "litres"], ["energy", "Energy meter, in kWh", "kWh"]];
const AIR = [
  ["inlet_temperature", "Inlet: temperature, in °C"], ["inlet_humidity", "Inlet: relative humidity, in %"],
  ["outlet_temperature", "Outlet: temperature, in °C"], ["outlet_humidity", "Outlet: relative humidity, in %"],
];

export async function unitsScreen(here, job) {
  const back = `/c/${job.id}`;
  if (!job.visit || !isToday(job.visit.begun_at)) return { title: "Drying units", back, body: h("p", {}, "There is no visit today. Begin one first.") };
  const missing = job.units.filter((unit) => missingOf(job, unit).length === COUNTERS.length).map(({ unit }) => unit);
  const body = h(".stack", {},
    job.units.length === 0 && h("p", {}, "No drying unit is known to stand here."),
    missing.length > 0 && h("p", {}, `Not read this visit: ${missing.join(", ")}.`),
    h("ul.tasks", {},
      h("li", {}, h("a.button.task", { href: `#${addressOf(job.id, "unit-change")}` }, h("strong", {}, "Another unit set here"))),
      h("li", {}, h("a.button.task", { href: `#${addressOf(job.id, "unit")}` }, h("strong", {}, "A unit for the register")))),
    job.units.map((unit) => one(here, job, unit)));
  return { title: "Drying units", back, body };
}

const said = (counters) => [counters.hours && `${counters.hours} h`, counters.collected && `${counters.collected} l`, counters.energy && `${counters.energy} kWh`].filter(Boolean).join(", ");

// Which counters have no reading of this visit.
function missingOf(job, { unit, last }) {
  const read = job.of("unit-reading").map((entry) => entry.payload).filter((p) => p.unit === unit && p.visit === job.visit.id);
  if (last?.visit === job.visit.id) read.push(last);
  return COUNTERS.filter(([name]) => !read.some((p) => p[name])).map(([, , word]) => word);
}

function one(here, job, unit) {
  const hygrometers = job.instruments.filter(({ scales }) => scales.some(({ principle }) => principle === "relative humidity"));
  const last = unit.last, missing = missingOf(job, unit);
  return h("section", {}, h("h2", {}, `${unit.unit}: ${unit.type}`), h("p", {}, [unit.zone && `In ${unit.zone}`, unit.words].filter(Boolean).join(": ")),
    h("p", {}, last ? `Last counters, ${last.visit}: ${said(last) || "none"}.` : "No counter was read yet."),
    h("p", {}, missing.length ? `Not read this visit: ${missing.join(", ")}.` : "Every counter is read this visit."),
    h("p", {}, h("a.button", { href: `#${addressOf(job.id, "unit-change", { unit: unit.unit, type: unit.type })}` }, `${unit.unit} moved, switched or taken away`)),
    form(here, job, {
      key: `unit/${unit.unit}`, place: `unit ${unit.unit}`, route: `/c/${job.id}/units`, words: `Keep ${unit.unit}`,
      start: Object.fromEntries([...AIR, ...COUNTERS].map(([name]) => [name, ""])),
      fields: (values, keep) => [...AIR, ...COUNTERS].map(([name, label]) => field(label, values[name], keep(name), { inputmode: "decimal" })),
      save: (values) => save(here, job, unit, (hygrometers[0] ?? job.instruments[0])?.id ?? "", values),
    }));
}

async function save(here, job, unit, instrument, values) {
  const plain = {};
  for (const [name] of [...AIR, ...COUNTERS]) {
    const read = values[name].trim() ? readValue(values[name]) : { number: "" };
    if (read.problem) return read.problem;
    plain[name] = read.number;
  }
  const written = [], taken_at = moment(), by = here.who(job);
  for (const kind of ["inlet", "outlet"]) {
    const temperature = plain[`${kind}_temperature`], relative_humidity = plain[`${kind}_humidity`];
    if (!temperature !== !relative_humidity) return `Temperature and relative humidity of the ${kind} belong together: one alone derives nothing. Next: read the other.`;
    if (!temperature) continue;
    const { problem } = airOf(asNumber(temperature), asNumber(relative_humidity));
    if (problem) return problem;
    written.push(["air-reading", payload("air-reading", { key: newKey(), place: unit.unit, kind, visit: job.visit.id, instrument, temperature, relative_humidity, taken_at, by })]);
  }
  const counters = Object.fromEntries(COUNTERS.map(([name]) => [name, plain[name]]));
  if (Object.values(counters).some(Boolean)) written.push(["unit-reading", payload("unit-reading", { key: newKey(), unit: unit.unit, visit: job.visit.id, taken_at, by, ...counters })]);
  if (!written.length) return "Nothing is filled in. Next: type what was read, or go back.";
  const entries = await here.store.writeAll(job.id, written);
  here.undo.offer(entryWords(entries.at(-1)), async () => {
    for (const entry of entries) await here.strike(job, entry, "undone at once");
    await here.again();
  });
  await here.drafts.clear(job.id, `unit/${unit.unit}`);
  return here.again();
}
