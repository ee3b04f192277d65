// A label to print and leave at the spot: plain id, case, place.

import { button, h } from "../dom.js";

export async function labelScreen(here, job, id) {
  const spot = job.spot(id);
  if (!spot) return { title: "No such spot", back: `/c/${job.id}`, body: h("p", {}, `There is no spot ${id} in this case.`) };
  const distance = (name) => spot[name] && `${spot[name]} m from ${spot[`${name}_from`] || "a place not said"}`;
  const lines = [job.name, `${spot.zone}, ${spot.element}`, spot.words, distance("offset_a"), distance("offset_b"), spot.height && `${spot.height} m above floor`].filter(Boolean);
  const body = h(".stack", {},
    h("section.label", { "aria-label": `Label of ${id}` }, h("p.label-id", {}, id), lines.map((line) => h("p", {}, line))),
    h(".row-of-keys.no-print", {},
      h("a.button", { href: `#/c/${job.id}/photos?spot=${encodeURIComponent(id)}` }, "A photo of this spot"),
      h("a.button", { href: `#/c/${job.id}/spot/${encodeURIComponent(id)}` }, "Its place"), button("Print the label", () => print())),
    h(".next-place.no-print", {}, h("a.button.next", { href: `#/c/${job.id}/round?spot=${encodeURIComponent(id)}` }, "Read this spot")));
  return { title: `Spot ${id}`, back: `/c/${job.id}`, body };
}
