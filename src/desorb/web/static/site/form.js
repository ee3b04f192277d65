// A form whose values lie on the device while they are typed: draft, save, say what is missing, go on.

import { button, fill, h } from "./dom.js";

// `fields(values, keep)` gives the parts; `keep(name)` is what a field calls with its text. `save(values)` returns a
// sentence when something is missing, else writes.
export function form(here, job, { key, place, route, start, fields, save, words = "Save" }) {
  const values = here.drafts.values(job.id, key) ?? start;
  const problem = h("p.said-problem", { role: "alert", tabindex: "-1" });
  problem.hidden = true;
  const keep = (name) => (value) => {
    values[name] = value;
    return here.drafts.set(job.id, key, place, route, values);
  };
  let busy = false;
  const press = async () => {
    if (busy) return;
    busy = true;
    try {
      const missing = await save(values);
      fill(problem, missing ?? "").hidden = !missing;
      if (missing) problem.focus();
      else await here.drafts.clear(job.id, key);
    } catch (trouble) {
      here.trouble(trouble);
    } finally {
      busy = false;
    }
  };
  return h("section.form", {}, fields(values, keep), problem, h(".next-place", {}, button(words, press, "next")));
}
