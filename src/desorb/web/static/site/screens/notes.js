// Notes, a quick pass to find an edge, and what was not inspected.

import { field, h, selection } from "../dom.js";
import { form } from "../form.js";
import { newKey } from "../kinds.js";
import { readValue } from "../numbers.js";
import { moment } from "../words.js";

const lines = (entries, words) => entries.length > 0 && h("ul", {}, entries.map((entry) => h("li", {}, words(entry.payload))));
const zoneOptions = (job) => [["", "choose a zone"], ...job.zones.map(({ id, words }) => [id, `${id}: ${words}`])];

export async function noteScreen(here, job) {
  const body = h(".stack", {}, lines(job.of("note"), (p) => p.words), form(here, job, {
    key: "note", place: "a note", route: `/c/${job.id}/note`, words: "Keep the note", start: { words: "" },
    fields: (values, keep) => [field("Note", values.words, keep("words"), { area: true })],
    save: async (values) => {
      if (!values.words.trim()) return "The note is empty. Next: write it, or go back.";
      await here.write(job, "note", { words: values.words.trim(), at: moment(), by: here.who(job), key: newKey() });
      return here.go(`/c/${job.id}`);
    },
  }));
  return { title: "A note", back: `/c/${job.id}`, body };
}

export async function scanScreen(here, job) {
  const body = h(".stack", {},
    h("p", {}, "A quick pass finds an edge. It never supports “no higher than control”."),
    lines(job.of("scan"), (p) => `${p.zone}, ${p.element}: ${p.edge}`),
    form(here, job, {
      key: "scan", place: "a quick pass", route: `/c/${job.id}/scan`, words: "Keep the pass",
      start: { zone: "", element: "", area_m2: "", spacing_m: "", edge: "" },
      fields: (values, keep) => [
        selection("Zone", zoneOptions(job), values.zone, keep("zone")),
        field("Element", values.element, keep("element"), { hint: "floor, north wall, ceiling" }),
        field("Area covered, in m²", values.area_m2, keep("area_m2"), { inputmode: "decimal" }),
        field("Spacing of the lines, in m", values.spacing_m, keep("spacing_m"), { inputmode: "decimal" }),
        field("Where the edge was found", values.edge, keep("edge"), { area: true }),
      ],
      save: async (values) => {
        if (!job.visit) return "There is no visit yet. Next: begin one.";
        if (!values.zone || !values.element.trim() || !values.edge.trim()) return "Zone, element and the edge belong together. Next: fill in what is missing.";
        const figures = {};
        for (const name of ["area_m2", "spacing_m"]) {
          const read = values[name].trim() ? readValue(values[name]) : { number: "" };
          if (read.problem) return read.problem;
          figures[name] = read.number;
        }
        await here.write(job, "scan", {
          visit: job.visit.id, zone: values.zone, element: values.element.trim(), edge: values.edge.trim(), ...figures, at: moment(), by: here.who(job),
        });
        return here.go(`/c/${job.id}`);
      },
    }));
  return { title: "A quick pass", back: `/c/${job.id}`, body };
}

const EVERYTHING = "everything";

export async function notInspectedScreen(here, job) {
  const body = h(".stack", {},
    lines(job.of("not-inspected"), (p) => (p.place ? `${p.place}: ${p.why}` : "Everything in scope was reached.")),
    form(here, job, {
      key: "not-inspected", place: "what was not inspected", route: `/c/${job.id}/not-inspected`, words: "Write it down",
      start: { place: "", why: "", effect: "", elements: "", all: "" },
      fields: (values, keep) => [
        field("Place", values.place, keep("place")), field("Why it was not reached", values.why, keep("why")),
        field("What cannot be said because of it", values.effect, keep("effect"), { area: true }),
        field("Elements that depend on it", values.elements, keep("elements"), { hint: "one on each line, as zone/element", area: true }),
        h("label.check", {}, h("input", { type: "checkbox", checked: values.all === EVERYTHING, onchange: (event) => keep("all")(event.target.checked ? EVERYTHING : "") }),
          h("span", {}, "Everything in scope was reached (leave the place empty)")),
      ],
      save: async (values) => {
        const place = values.place.trim();
        if (place && values.all) return "A place is named and everything is said to be reached. Next: keep one of the two.";
        if (!place && !values.all) return "No place is named. Next: name it, or say that everything in scope was reached.";
        if (place && !values.why.trim()) return "The reason is missing. Next: say why it was not reached.";
        await here.write(job, "not-inspected", {
          place, why: values.why.trim(), effect: values.effect.trim(), at: moment(), by: here.who(job),
          elements: values.elements.split("\n").map((each) => each.trim()).filter(Boolean),
        });
        return here.go(`/c/${job.id}`);
      },
    }));
  return { title: "What was not inspected", back: `/c/${job.id}`, body };
}
