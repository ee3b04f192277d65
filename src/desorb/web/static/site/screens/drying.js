// How the drying goes, as the office last worked it out: what it could harm, courses, units, enclosures, dates. To be read;
// the readings themselves are written in the round, with the air and with the units.

import { h } from "../dom.js";
import { grounds, steps, verdict } from "../shown.js";
import { count, dayOf, readable } from "../words.js";

const ofThePack = (job) => h("p", {}, `As the office worked it out on ${dayOf(job.pack.made_at)}: what was written here since is not in it.`);

export async function dryingScreen(here, job) {
  const shown = job.pack.drying ?? [];
  const kinds = [...new Set(shown.map((each) => each.kind))];
  const link = (each, at) => h("li", {}, h("a.button.task", { href: `#/c/${job.id}/drying/${at}` },
    h("strong", {}, each.title), each.status && h("span", {}, readable(each.status, job.zone))));
  const body = h(".stack", {},
    shown.length ? ofThePack(job) : h("p", {}, "The office has said nothing of the drying yet. Next: send what is written, and get the case from the office again."),
    kinds.map((kind) => [h("h2", {}, kind[0].toUpperCase() + kind.slice(1)), h("ul.tasks", {}, shown.map((each, at) => each.kind === kind && link(each, at)))]));
  return { title: "How the drying goes", back: `/c/${job.id}`, body };
}

export async function dryingPartScreen(here, job, at) {
  const shown = (job.pack.drying ?? [])[Number(at)], say = (words) => readable(words, job.zone), back = `/c/${job.id}/drying`;
  if (!shown) return { title: "Not here", back, body: h("p", {}, "This device has nothing of that name. Next: go back to the list.") };
  return { title: shown.title, back, body: h(".stack", {}, verdict(shown, say), steps(shown, say), grounds(shown, say), ofThePack(job)) };
}

export const dryingCount = (job) => count((job.pack.drying ?? []).length, "result");
