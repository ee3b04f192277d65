// A new spot, or another position of a known one. Two distances and the height find it again; no drag, no gesture.

import { choice, field, h, selection } from "../dom.js";
import { form } from "../form.js";
import { hasMoved } from "../job.js";
import { readValue } from "../numbers.js";

const PLACE = [
  ["height", "Height above floor, in m"], ["offset_a", "First distance, in m"], ["offset_b", "Second distance, in m"],
];

// The next free id of this zone, and whose device gave it: k6 gives k7-ab12. Two devices without a network cannot clash.
export function nextSpotId(job, zone) {
  const last = job.spots.filter((spot) => spot.zone === zone).map(({ id }) => /^(.*?)(\d+)(-[0-9a-f]{4})?$/.exec(id)).filter(Boolean).at(-1);
  const stem = last?.[1] ?? "s";
  const numbers = job.spots.map(({ id }) => (id.startsWith(stem) ? Number(id.slice(stem.length).replace(/-[0-9a-f]{4}$/, "")) : 0)).filter((number) => number > 0);
  return `${stem}${Math.max(0, ...numbers) + 1}-${job.device.slice(0, 4)}`;
}

export async function spotScreen(here, job, id = "") {
  const known = job.spot(id);
  const start = Object.fromEntries(["id", "zone", "element", "role", "words", "height", "why_unaffected", "offset_a", "offset_a_from", "offset_b", "offset_b_from"]
    .map((name) => [name, known?.[name] ?? (name === "role" ? "survey" : "")]));
  const body = h(".stack", {},
    known && h("p", {}, "A spot that moves by more than 50 mm (a setting of ours) is another spot: it gets an id of its own and starts a history of its own."),
    form(here, job, {
      key: `spot/${id}`, place: known ? `place of spot ${id}` : "a new spot", route: known ? `/c/${job.id}/spot/${encodeURIComponent(id)}` : `/c/${job.id}/spot`,
      words: known ? "Keep this place" : "Keep this spot", start,
      fields: (values, keep) => {
        const idBox = field("Id of the spot", values.id, keep("id"), { hint: "short, as it stands on the label" });
        const chooseZone = (zone) => {
          keep("zone")(zone);
          if (known || values.id) return;
          idBox.input.value = nextSpotId(job, zone);
          keep("id")(idBox.input.value);
        };
        return [
          selection("Zone", [["", "choose a zone"], ...job.zones.map((zone) => [zone.id, `${zone.id}: ${zone.words}`])], values.zone, chooseZone),
          idBox, field("Element", values.element, keep("element"), { hint: "floor, north wall, ceiling" }),
          choice("Role", ["survey", "control"], values.role, keep("role")),
          field("Where it is, in words", values.words, keep("words")),
          PLACE.flatMap(([name, label]) => [
            field(label, values[name], keep(name), { inputmode: "decimal" }),
            name !== "height" && field(`${label.split(",")[0]} is measured from`, values[`${name}_from`], keep(`${name}_from`), { hint: "window wall, door frame" }),
          ]),
          field("For a control: why it is unaffected", values.why_unaffected, keep("why_unaffected")),
        ];
      },
      save: async (values) => {
        const spot = { ...(known ? { x: known.x, y: known.y } : {}), ...values };
        for (const name of Object.keys(values)) spot[name] = values[name].trim();
        if (!spot.id || !spot.zone || !spot.element) return "Id, zone and element belong together. Next: fill in what is missing.";
        if (spot.id.length > 40) return "The id is longer than 40 letters. Next: shorten it.";
        for (const [name] of PLACE) {
          const read = spot[name] ? readValue(spot[name]) : { number: "" };
          if (read.problem) return read.problem;
          spot[name] = read.number;
        }
        const moved = known ? hasMoved(known, spot) : [];
        if (moved.length) [spot.x, spot.y] = ["", ""];
        if (moved.length && spot.id === known.id) return `This is more than 50 mm away from where ${known.id} was (${moved.join(", ").replaceAll("_", " ")}). It is another spot. Next: give it another id, such as ${nextSpotId(job, spot.zone)}.`;
        if (job.spot(spot.id) && spot.id !== known?.id) return `There is a spot ${spot.id} already. Next: give another id, such as ${nextSpotId(job, spot.zone)}.`;
        await here.write(job, "spot", spot);
        return here.go(`/c/${job.id}/label/${encodeURIComponent(spot.id)}`);
      },
    }));
  return { title: known ? `Place of ${id}` : "A new spot", back: `/c/${job.id}`, body };
}
