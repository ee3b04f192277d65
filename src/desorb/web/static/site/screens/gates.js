// What could hurt someone here. A gate is not answered, has evidence recorded, or says stop; nothing is opened here.

import { field, h } from "../dom.js";
import { form } from "../form.js";
import { moment, readable } from "../words.js";

const BRACKETS = { "not answered": "[ ]", stop: "[x]", "evidence recorded": "[e]" };
const ORDER = ["stop", "not answered", "evidence recorded"];
const OF_A_MATERIAL = ["asbestos", "lead paint"];

const stateOf = (gate) => h("p.gate-state", {}, h("span.bracket", { "aria-hidden": "true" }, BRACKETS[gate.state] ?? "[ ]"), ` ${gate.state}`);

function gateBox(job, gate, extra) {
  return h("section.gate", {},
    h("h2", {}, `${gate.gate}, ${gate.zone || "the site"}`), stateOf(gate), h("p", {}, readable(gate.words, job.zone)),
    gate.asks && h("p", {}, `It asks for: ${gate.asks}.`),
    gate.evidence.length > 0 && h("ul", {}, gate.evidence.map((line) => h("li", {}, readable(line, job.zone)))),
    h("p.hint", {}, job.pack.under_every_gate), extra);
}

export async function gatesScreen(here, job) {
  const gates = [...job.gates].sort((one, other) => ORDER.indexOf(one.state) - ORDER.indexOf(other.state));
  const address = (gate) => `#/c/${job.id}/gates/${encodeURIComponent(gate.gate)}/${encodeURIComponent(gate.zone || "the site")}`;
  const body = h(".stack", {},
    gates.length ? "" : h("p", {}, "The office gave no gate for this case. What could hurt someone can still be written down."),
    gates.map((gate) => gateBox(job, gate, h("a.button", { href: address(gate), "aria-label": `Write down evidence for ${gate.gate}, ${gate.zone || "the site"}` }, "Write down evidence"))),
    h(".next-place", {}, h("a.button.next", { href: `#/c/${job.id}/hazard` }, "A hazard seen")));
  return { title: "What could hurt someone here", back: `/c/${job.id}`, body };
}

export async function gateScreen(here, job, name, zone) {
  const gate = job.gates.find((each) => each.gate === name && (each.zone || "the site") === zone)
    ?? { gate: name, zone, state: "not answered", words: "", asks: "", evidence: [] };
  const named = gate.zone.split(", ");
  const start = {
    reference: "", by: "", competence: "", for_what: "", result: "", materials: "", override: false,
    zones: job.zones.map(({ id }) => id).filter((id) => named.includes(id) || gate.zone === "" || gate.zone === "the site"),
  };
  const body = h(".stack", {}, gateBox(job, gate), form(here, job, {
    key: `gate/${name}/${zone}`, place: `gate ${name}, ${zone}`, words: "Keep this evidence", start,
    route: `/c/${job.id}/gates/${encodeURIComponent(name)}/${encodeURIComponent(zone)}`,
    fields: (values, keep) => [
      field("What was found", values.result, keep("result"), { area: true }),
      field("Reference", values.reference, keep("reference"), { hint: "number or name of the survey, certificate or letter" }),
      field("By whom", values.by, keep("by")),
      field("What makes this person competent", values.competence, keep("competence")),
      field("For what work", values.for_what, keep("for_what")),
      OF_A_MATERIAL.includes(name) && field("Which materials it covers", values.materials, keep("materials"), { hint: "one on each line; it says nothing of any other material", area: true }),
      h("fieldset", {}, h("legend", {}, "Which zones it covers"), job.zones.map(({ id, words }) => {
        const toggle = (event) => keep("zones")(event.target.checked ? [...values.zones, id] : values.zones.filter((each) => each !== id));
        return h("label.check", {}, h("input", { type: "checkbox", checked: values.zones.includes(id), onchange: toggle }), h("span", {}, `${id}: ${words}`));
      })),
      h("label.check", {}, h("input", { type: "checkbox", checked: values.override, onchange: (event) => keep("override")(event.target.checked) }),
        h("span", {}, "Somebody wishes to go on without an answer. This is kept, and the gate stays not answered.")),
    ],
    save: async (values) => {
      const materials = values.materials.split(/[\n,]/).map((each) => each.trim()).filter(Boolean);
      if (!values.zones.length) return "No zone is marked. Evidence speaks of places. Next: mark the zones it covers.";
      if (OF_A_MATERIAL.includes(name) && !materials.length && !values.override) return "No material is named. This evidence must say which material it covers. Next: name it as the covering is written down.";
      await here.write(job, "gate-answer", {
        gate: name, zones: values.zones, materials, reference: values.reference.trim(), by: values.by.trim(), for_what: values.for_what.trim(),
        result: values.result.trim(), competence: values.competence.trim(), wish_to_override: values.override, at: moment(),
      });
      return here.go(`/c/${job.id}/gates`);
    },
  }));
  return { title: `Evidence: ${name}`, back: `/c/${job.id}/gates`, body };
}
