// One form for every kind of the methods and of the drying. Cautions and gates come first; the fields after them.

import { button, choice, field, h, selection } from "../dom.js";
import { form } from "../form.js";
import { defaults } from "../kinds.js";
import { readValue } from "../numbers.js";
import { isToday, localInput, moment, readable } from "../words.js";
import { FORMS, partsOf } from "../write_forms.js";
import { addressOf } from "./methods.js";

const BRACKETS = { "not answered": "[ ]", stop: "[x]", "evidence recorded": "[e]" };
const seen = new Set(); // cautions that were gone through since this page was opened

export async function writeScreen(here, job, kind) {
  const asked = FORMS[kind], base = `/c/${job.id}`;
  const list = asked?.back === undefined ? `${base}/methods` : asked.back ? `${base}/${asked.back}` : base;
  const refuse = (words) => ({ title: asked?.title ?? "Not known here", back: list, body: h("p", {}, words) });
  if (!asked) return refuse("This page does not write that down. Next: write a note.");
  if (!job.pack.choices) return refuse("This case was taken along before the office gave cautions and words for it. Next: get the case from the office again.");
  if (asked.ofVisit && (!job.visit || !isToday(job.visit.begun_at))) return refuse("There is no visit today. Next: begin one.");
  const query = Object.fromEntries([...here.params].filter(([name]) => name in defaults(kind)));
  const known = query.id ? job.described(kind, query.id) : null;
  const test = kind === "floor-test" ? null : job.described("floor-test", query.test);
  const chosen = asked.chosen ? known?.[asked.chosen] ?? query[asked.chosen] ?? "" : "";
  if (asked.chosen && !chosen) return chooseFirst(job, kind, asked, list);
  const method = asked.chosen ? chosen : test?.method ?? "";
  const zone = known?.zone ?? test?.zone ?? job.described("sample", query.sample)?.zone ?? job.units.find(({ unit }) => unit === query.unit)?.zone ?? "";
  const first = whatComesFirst(job, kind, method, zone);
  const of = chosen || query.sample || [query.test, query.place].filter(Boolean).join(", ") || query.unit;
  const title = of ? `${asked.title}: ${of}` : asked.title;
  const address = addressOf(job.id, kind, query);
  const key = `${job.id} ${kind} ${method} ${zone}`;
  if (first && !seen.has(key)) {
    const go = () => {
      seen.add(key);
      return here.again();
    };
    return { title, back: list, body: h(".stack", {}, first, h(".next-place", {}, button("Go on to the form", go, "next"))) };
  }
  const values = startOf(here, job, kind, { ...query, ...known, ...(asked.chosen ? { [asked.chosen]: chosen } : {}) }, method);
  const body = h(".stack", {}, first, asked.after && h("p.hint", {}, asked.after), form(here, job, {
    key: `write/${address}`, place: title.toLowerCase(), route: address, words: "Keep it", start: values,
    fields: (now, keep) => {
      const parts = partsOf(kind, method), fold = parts.findIndex(([name]) => name === asked.fold?.from);
      const shown = parts.map((part) => one(job, kind, part, now, keep, query));
      return fold < 0 ? shown : [shown.slice(0, fold), h("details", {}, h("summary", {}, asked.fold.words), shown.slice(fold))];
    },
    save: (now) => save(here, job, kind, method, { ...query, ...(asked.chosen ? { [asked.chosen]: chosen } : {}) }, known, now, list),
  }));
  return { title, back: list, body, opened: () => first && body.querySelector(".form").scrollIntoView() };
}

function chooseFirst(job, kind, asked, back) {
  const words = job.pack.choices[kind]?.[asked.chosen] ?? [];
  const link = (word) => h("li", {}, h("a.button.task", { href: `#${addressOf(job.id, kind, { [asked.chosen]: word })}` }, h("strong", {}, word)));
  return { title: asked.title, back, body: h(".stack", {}, h("p", {}, "By which method? What to see to first hangs on it."), h("ul.tasks", {}, words.map(link))) };
}

// Cautions of the method, then the gates of what is done there, stops first. null where there is neither.
function whatComesFirst(job, kind, method, zone) {
  const of = job.pack.cautions_of, asked = FORMS[kind];
  const cautions = (kind === "leak-test" ? of["leak-test"][method] : kind === "carbide-reading" ? of["carbide-reading"]
    : ["floor-test", "floor-place", "sample"].includes(kind) ? of["floor-test"][method] : null) ?? [];
  const drilled = kind === "floor-place" && !["dish", "box"].includes(method);
  const actions = asked.actions ?? (kind === "leak-test" ? [job.pack.gates_of_leak_test[method]] : drilled ? ["drill"] : []);
  const gates = new Map(); // the same words for several zones are said once
  for (const gate of actions.flatMap((action) => job.gatesOf(action, zone))) {
    const key = `${gate.gate} ${gate.state} ${gate.words}`;
    if (gates.has(key)) gates.get(key).zones.add(gate.zone);
    else gates.set(key, { ...gate, zones: new Set([gate.zone]) });
  }
  if (!cautions.length && !gates.size) return null;
  return h("section.gate.cautions", { "aria-label": "See to this first" }, h("h2", {}, "See to this first"),
    cautions.length > 0 && h("ul", {}, cautions.map((words) => h("li", {}, words))),
    [...gates.values()].map((gate) => h("p", {}, h("strong", {}, h("span.bracket", { "aria-hidden": "true" }, `${BRACKETS[gate.state] ?? "[ ]"} `), `${gate.gate}, ${[...gate.zones].join(", ")}: ${gate.state}. `),
      readable(gate.words, job.zone).replace(/([^.])$/, "$1."), gate.asks && ` It asks for: ${gate.asks}.`)),
    gates.size > 0 && h("p.hint", {}, job.pack.under_every_gate));
}

function startOf(here, job, kind, given, method) {
  const { stem } = FORMS[kind];
  const start = {};
  for (const [name, , how = {}] of partsOf(kind, method)) {
    const value = given[name] ?? "";
    start[name] = name === "at" && how.now ? "" : how.time || how.now ? localInput(value) : how.lines ? [value].flat().filter(Boolean).join("\n") : value;
  }
  if (stem && !start.id) start.id = job.nextId(kind, stem);
  if (kind === "sample" && !start.zone) start.zone = job.described("floor-test", given.test)?.zone ?? "";
  return start;
}

function one(job, kind, [name, label, how = {}], values, keep, query) {
  const words = job.pack.choices[how.pickOf?.[0] ?? kind]?.[how.pickOf?.[1] ?? name] ?? [];
  const options = [...words.filter(Boolean), ...(values[name] && !words.includes(values[name]) ? [values[name]] : []), ...(words.includes("") ? [["", "not stated"]] : [])];
  if (how.zone) return selection(label, [["", "choose a zone"], ...job.zones.map(({ id, words: said }) => [id, `${id}: ${said}`])], values[name], keep(name));
  if (how.instrument) return selection(label, [["", "not stated"], ...job.instruments.map(({ id, words: said }) => [id, `${id}: ${said}`])], values[name], keep(name));
  if (how.select) return selection(label, [["", "choose one"], ...words], values[name], keep(name));
  if (how.pick || how.pickOf) return choice(label, options, values[name], keep(name));
  const registered = kind === "unit-change" && name === "unit" ? (job.pack.unit_register ?? []).map(({ id }) => id).join(", ") : "";
  const places = kind === "floor-reading" && name === "place" ? placesOf(job, query.test).join(", ") : "";
  const hint = places ? `written down: ${places}` : registered ? `in the register: ${registered}` : how.hint ?? (how.now ? "empty: the time of keeping" : how.lines ? "one on each line" : "");
  const more = how.time || how.now ? { type: "datetime-local" } : how.figure ? { inputmode: "decimal" } : { area: how.area || how.lines };
  return field(label, values[name], keep(name), { hint, ...more });
}

const placesOf = (job, test) => [...new Set([...(job.described("floor-test", test)?.places ?? []).map(({ place }) => place),
  ...job.of("floor-place").filter(({ payload: p }) => p.test === test).map(({ payload: p }) => p.place)])];

async function save(here, job, kind, method, fixed, known, values, list) {
  const asked = FORMS[kind], record = { ...pick(kind, known ?? {}), ...fixed };
  for (const [name, label, how = {}] of partsOf(kind, method)) {
    let text = String(values[name] ?? "").trim();
    if (!text && asked.needs.includes(name)) return `${label}: nothing is said. Next: fill it in; what stands here is kept as a draft.`;
    if (how.figure && text) {
      const read = readValue(text);
      if (read.problem) return `${label}. ${read.problem}`;
      if (read.bound) return `${label}: a figure at the end of its scale decides nothing here. Next: read it with an instrument that reaches further, or write a note.`;
      text = read.text.replace("\u2212", "-"); // as typed; the office knows one minus
    }
    record[name] = how.now ? moment(text ? new Date(text) : new Date()) : how.time && text ? moment(new Date(text))
      : how.lines ? text.split("\n").map((line) => line.trim()).filter(Boolean) : text;
  }
  if (asked.oneOf && !asked.oneOf.some((name) => record[name])) return "No figure is filled in. Next: type what the laboratory says, or go back.";
  if (record.id?.length > 40) return "The id is longer than 40 letters. Next: shorten it.";
  if (record.id && !known && job.described(kind, record.id)) return `There is a ${record.id} already. Next: give another id, or go back and open that one.`;
  if (asked.ofVisit) record.visit = job.visit.id;
  await here.write(job, kind, { ...record, by: here.who(job) });
  const thing = record.sample ? ["sample", record.sample] : record.test && kind !== "leak-test" && kind !== "cause-test" ? ["floor test", record.test]
    : { "floor-test": ["floor test", record.id], sample: ["sample", record.id], "leak-test": ["leak test", record.id] }[kind];
  return here.go(thing ? `/c/${job.id}/methods/${thing.map(encodeURIComponent).join("/")}` : list);
}

const pick = (kind, known) => Object.fromEntries(Object.keys(defaults(kind)).filter((name) => name in known).map((name) => [name, known[name]]));
