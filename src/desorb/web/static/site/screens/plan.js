// The plan, and the same spots as a list. Without a plan the list is everything.

import { h, icon } from "../dom.js";

export async function planScreen(here, job) {
  const open = (id) => here.go(`/c/${job.id}/label/${encodeURIComponent(id)}`);
  const place = h(".plan-place");
  const body = h(".stack", {}, place);
  let hasTwin = false;
  try {
    const { drawPlan } = await import("../../plan/view.js");
    drawPlan(place, { ...job.pack, spots: job.spots }, { onSpot: open, current: here.params.get("spot") ?? "", taken: taken(job) });
    hasTwin = true;
  } catch (problem) {
    console.info("no plan here", problem);
  }
  if (!hasTwin) {
    body.append(h("ul.written", {}, job.spots.map((spot) => h("li", {}, h("a.button.task", { href: `#/c/${job.id}/label/${encodeURIComponent(spot.id)}` },
      h("strong", {}, spot.id), h("span", {}, `${spot.zone}, ${spot.element}. ${spot.words}`), h("span", {}, icon(spot.status || "not read"), ` ${spot.status || "not read"}`))))));
  }
  return { title: "Plan", back: `/c/${job.id}`, body };
}

// What this device has read in the last visit, beyond what the office knew.
function taken(job) {
  const found = {};
  for (const spot of job.spots) {
    const own = spot.readings.find((reading) => reading.local && reading.visit === job.visit?.id);
    if (own) found[spot.id] = { values: own.values, scale: own.scale, instrument: own.instrument, taken_at: own.taken_at, clipped: own.values.some((value) => /^[<>]/.test(value)) };
  }
  return found;
}
