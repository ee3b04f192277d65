// One case: today's visit, and the tasks of a visit in the order of the questions of this job.

import { button, field, h } from "../dom.js";

import { isDone, nextVisitId } from "../job.js";
import { dryingCount } from "./drying.js";
import { clockTime, count, dayOf, isToday, moment } from "../words.js";

export async function caseScreen(here, job) {
  const base = `/c/${job.id}`;
  const today = job.visit && isToday(job.visit.begun_at) ? job.visit : null;
  const stops = job.gates.filter((gate) => gate.state === "stop").length;
  const open = job.gates.filter((gate) => gate.state === "not answered").length;
  const read = today ? job.spots.filter((spot) => isDone(spot, { visit: today.id, scale: "", instrument: "" })).length : 0;
  const link = (route, words, note = "") => h("li", {}, h("a.button.task", { href: `#${base}/${route}` }, h("strong", {}, words), note && h("span", {}, note)));
  const written = job.entries.filter((entry) => entry.kind !== "visit").length;
  const body = h(".stack", {},
    job.pack.case.invented && h("p.invented", {}, "An invented case, for demonstration."),
    h("p", {}, job.pack.case.site),
    visitPart(here, job, today),
    h("ul.tasks", {},
      link("gates", "What could hurt someone here", `${stops ? `${count(stops, "stop")}, ` : ""}${open} not answered`),
      link("hazard", "A hazard seen"),
      link("instruments", "Instruments, fit to use"),
      link("round", "The round", `${read} of ${count(job.spots.length, "spot")} read this visit`),
      link("plan", "Plan and list of spots"),
      link("air", "Air", count(job.airPlaces.length, "place")),
      link("units", "Drying units", count(job.units.length, "unit")),
      link("methods", "Methods: floors, samples, leaks", count((job.pack.methods ?? []).length, "result")),
      link("drying", "How the drying goes", dryingCount(job)),
      link("photos", "Photos"),
      link("scan", "A quick pass to find an edge"),
      link("not-inspected", "What was not inspected"),
      link("write/not-done", "Something that was not done"),
      link("spot", "A new spot"),
      link("note", "A note"),
      link("written", "What was written", count(written, "line"))),
    today && h(".next-place", {}, h("a.button.next", { href: `#${base}/round` }, read ? "Go on with the round" : "Begin the round")));
  return { title: job.name, back: "/", body };
}

function visitPart(here, job, today) {
  if (today) return h("p", {}, `Visit ${today.id}, begun ${clockTime(today.begun_at)}${today.by ? ` by ${today.by}` : ""}.`);
  const key = "visit", route = `/c/${job.id}`, id = nextVisitId(job);
  const values = here.drafts.values(job.id, key) ?? { by: here.who(job), words: "" };
  const keep = (name) => (text) => {
    values[name] = text;
    here.drafts.set(job.id, key, `visit ${id}`, route, values);
  };
  const begin = async () => {
    await here.write(job, "visit", { id, begun_at: moment(), by: values.by.trim(), words: values.words.trim() });
    await here.drafts.clear(job.id, key);
    await here.again();
  };
  return h("section.form", {},
    h("p", {}, job.visit ? `The last visit was ${job.visit.id}, ${dayOf(job.visit.begun_at)}.` : "Nobody has visited yet."),
    field("Who is here", values.by, keep("by")), field("What this visit is for", values.words, keep("words")),
    h(".next-place", {}, button(`Begin visit ${id}`, begin, "next")));
}
