// Something seen that stops work until a competent person has dealt with it.

import { choice, field, h, selection } from "../dom.js";
import { form } from "../form.js";
import { asNumber, readValue } from "../numbers.js";
import { moment } from "../words.js";

export async function hazardScreen(here, job) {
  const seen = job.of("hazard");
  const load = h("p.hint", { role: "status" });
  const weigh = (values) => {
    const kilograms = (asNumber(values.depth_mm) / 1000) * asNumber(values.area_m2) * 1000; // kg/m3 of water, rounded
    load.textContent = kilograms > 0 ? `About ${kilograms.toFixed(0)} kg of water (${values.depth_mm} mm over ${values.area_m2} m²). Keep out from under it.` : "";
  };
  const body = h(".stack", {},
    seen.length > 0 && h("ul", {}, seen.map(({ payload: p }) => h("li", {}, `${p.gate}: ${p.words}${p.zone ? ` (${p.zone})` : ""}`))),
    form(here, job, {
      key: "hazard", place: "a hazard seen", route: `/c/${job.id}/hazard`, words: "Write the hazard down",
      start: { gate: "", zone: "", words: "", told_to: "", depth_mm: "", area_m2: "" },
      fields: (values, keep) => {
        const keepAndWeigh = (name) => (text) => {
          keep(name)(text);
          weigh(values);
        };
        return [
          choice("What kind", job.pack.gate_names, values.gate, keep("gate")),
          selection("Where", [["", "the whole site"], ...job.zones.map(({ id, words }) => [id, `${id}: ${words}`])], values.zone, keep("zone")),
          field("What was seen", values.words, keep("words"), { area: true }),
          field("Who was told", values.told_to, keep("told_to")),
          field("Depth of standing or bulging water, in mm", values.depth_mm, keepAndWeigh("depth_mm"), { inputmode: "decimal" }),
          field("Area of it, in m²", values.area_m2, keepAndWeigh("area_m2"), { inputmode: "decimal" }), load,
        ];
      },
      save: async (values) => {
        if (!values.gate) return "The kind of hazard is not chosen. Next: choose one.";
        if (!values.words.trim()) return "What was seen is not said. Next: say it in a few words.";
        for (const name of ["depth_mm", "area_m2"]) if (values[name].trim() && readValue(values[name]).problem) return readValue(values[name]).problem;
        const { gate, zone } = values;
        const plain = (name) => (values[name].trim() ? readValue(values[name]).number : "");
        await here.write(job, "hazard", {
          gate, zone, words: values.words.trim(), told_to: values.told_to.trim(), depth_mm: plain("depth_mm"), area_m2: plain("area_m2"),
          at: moment(), by: here.who(job),
        });
        return here.go(`/c/${job.id}/gates`);
      },
    }));
  return { title: "A hazard seen", back: `/c/${job.id}`, body };
}
