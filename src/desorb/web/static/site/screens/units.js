// Drying units: the air at inlet and outlet, and the counters.

import { field, h } from "../dom.js";
import { form } from "../form.js";
import { airOf } from "../air.js";
import { newKey, payload } from "../kinds.js";
import { asNumber, readValue } from "../numbers.js";
import { entryWords, isToday, moment } from "../words.js";

const COUNTERS = [["hours", "Hour meter, in h"], ["collected", "Collected since the last visit, in litres"], ["energy", "Energy meter, in kWh"]];
const AIR = [
  ["inlet_temperature", "Inlet: temperature, in °C"], ["inlet_humidity", "Inlet: relative humidity, in %"],
  ["outlet_temperature", "Outlet: temperature, in °C"], ["outlet_humidity", "Outlet: relative humidity, in %"],
];

export async function unitsScreen(here, job) {
  const back = `/c/${job.id}`;
  if (!job.visit || !isToday(job.visit.begun_at)) return { title: "Drying units", back, body: h("p", {}, "There is no visit today. Begin one first.") };
  const body = h(".stack", {},
    job.units.length === 0 && h("p", {}, "The office gave no drying unit for this case. A unit is set in the office; a note can say what stands here."),
    job.units.map((unit) => one(here, job, unit)));
  return { title: "Drying units", back, body };
}

function one(here, job, unit) {
  const hygrometers = job.instruments.filter(({ scales }) => scales.some(({ principle }) => principle === "relative humidity"));
  const last = unit.last;
  return h("section", {}, h("h2", {}, `${unit.unit}: ${unit.type}`), h("p", {}, [unit.zone && `In ${unit.zone}. `, unit.words]),
    last && h("p", {}, `${last.visit}: ${[last.hours && `${last.hours} h`, last.collected && `${last.collected} l`, last.energy && `${last.energy} kWh`].filter(Boolean).join(", ")}`),
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
