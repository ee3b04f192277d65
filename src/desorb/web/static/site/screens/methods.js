// The methods beside the scan: floor tests, samples, leak tests, causes. What the office worked out is shown as it is;
// what was written here since stands below it, without a result.

import { h } from "../dom.js";
import { stateMark } from "../marks.js";
import { grounds, steps, verdict } from "../shown.js";
import { mayBeReadFrom } from "../waiting.js";
import { clockTime, entryWords, readable } from "../words.js";

const KINDS = { "floor test": "floor-test", sample: "sample", "leak test": "leak-test" };

export function addressOf(caseId, kind, query = {}) {
  const parts = new URLSearchParams(query).toString();
  return `/c/${caseId}/write/${kind}${parts ? `?${parts}` : ""}`;
}

const link = (address, words, note = "") => h("li", {}, h("a.button.task", { href: `#${address}` }, h("strong", {}, words), note && h("span", {}, note)));
const thingAddress = (job, kind, id) => `/c/${job.id}/methods/${encodeURIComponent(kind)}/${encodeURIComponent(id)}`;

export async function methodsScreen(here, job) {
  const shown = job.pack.methods ?? [];
  const own = Object.entries(KINDS).flatMap(([kind, record]) => job.of(record).map((entry) => entry.payload.id)
    .filter((id, at, ids) => ids.indexOf(id) === at && !shown.some((each) => each.kind === kind && each.id === id)).map((id) => ({ kind, id })));
  const write = (kind, words) => link(addressOf(job.id, kind), words);
  const body = h(".stack", {},
    shown.length + own.length === 0 && h("p", {}, "No floor test, sample or leak test is described for this case yet."),
    h("ul.tasks", {}, shown.map((each) => link(thingAddress(job, each.kind, each.id), each.title, each.status || "no result")),
      own.map(({ kind, id }) => link(thingAddress(job, kind, id), `${kind} ${id}`, "written here, no result yet"))),
    h("h2", {}, "Write down"),
    h("ul.tasks", {}, write("floor-test", "A floor test"), write("sample", "A sample"), write("leak-test", "A leak test"),
      write("cause-observation", "Something about a cause"), write("cause-test", "A test of a cause")));
  return { title: "Methods: floors, samples, leaks", back: `/c/${job.id}`, body };
}

export async function methodScreen(here, job, kind, id) {
  const shown = (job.pack.methods ?? []).find((each) => each.kind === kind && each.id === id);
  const record = job.described(KINDS[kind] ?? "", id);
  const say = (words) => readable(words, job.zone);
  const back = `/c/${job.id}/methods`;
  if (!shown && !record) return { title: "Not here", back, body: h("p", {}, "This device has nothing of that name. Next: go back to the list.") };
  const written = job.standing.filter(({ kind: of, payload: p }) => isAbout(kind, id, of, p));
  const offered = offeredFor(job, kind, id, record), next = offered[record?.places?.length ? 1 : 0];
  const body = h(".stack", {},
    shown ? verdict(shown, say) : h("p", {}, "Written on this device. The office works out its result; it comes with the next pack."),
    kind === "floor test" && places(job, record, written),
    offered.length > 0 && [h("h2", {}, "Write down"), h("ul.tasks", {}, offered.map(({ address, words }) => link(address, words)))],
    shown && steps(shown, say),
    written.length > 0 && [h("h2", {}, "Written on this device"), h("ul.written", {}, [...written].reverse().map((entry) => h("li", {}, `${entryWords(entry)} ${clockTime(entry.claimed_at)} `, stateMark(entry))))],
    shown && grounds(shown, say),
    next && h(".next-place", {}, h("a.button.next", { href: `#${next.address}` }, next.words)));
  return { title: shown?.title ?? `${kind} ${id}`, back, body };
}

function isAbout(kind, id, of, p) {
  if (kind === "floor test") return (of === "floor-test" && p.id === id) || (["floor-place", "floor-reading", "sample"].includes(of) && p.test === id);
  if (kind === "sample") return (of === "sample" && p.id === id) || (["custody", "weighing", "carbide-reading", "cup-reading", "salt-content"].includes(of) && p.sample === id);
  return kind === "leak test" && of === "leak-test" && p.id === id;
}

// Each place with the time from which it may be read: as the office said it, or by its list for a place made here.
function places(job, test, written) {
  const known = new Map((test?.places ?? []).map((each) => [each.place, readable(each.waiting, job.zone)]));
  for (const { kind, payload: p, name } of written) {
    if (kind !== "floor-place" || job.inPack({ name })) continue;
    const found = mayBeReadFrom(test?.waits, p);
    const nothing = test?.waits ? "no waiting; read the sample as it is taken" : "the office says from when it may be read";
    known.set(p.place, found ? [`may be read from ${readable(found.from, job.zone)}`, ...found.missing].join(", ") : nothing);
  }
  if (!known.size) return h("p", {}, "No place is written down yet.");
  return [h("h2", {}, "Places"), h("ul.tasks", {}, [...known].map(([place, words]) => test?.waits?.length
    ? link(addressOf(job.id, "floor-reading", { test: test.id, place }), place, words)
    : h("li", {}, h("strong", {}, place), ` ${words}`)))];
}

// What can be written down of one thing.
function offeredFor(job, kind, id, record) {
  const to = (of, query, words) => ({ address: addressOf(job.id, of, query), words });
  const sampled = ["carbide", "crushed sample"].includes(record?.method);
  const again = (of, words) => (record ? [to(of, { id }, words)] : []);
  return {
    "floor test": [to("floor-place", { test: id }, "A place"), sampled ? to("sample", { test: id }, "A sample") : to("floor-reading", { test: id }, "A reading"),
      ...again("floor-test", "Describe the test again")],
    sample: [to("weighing", { sample: id }, "A weighing"), to("carbide-reading", { sample: id }, "A carbide test"), to("cup-reading", { sample: id }, "Air over the crushed sample"),
      to("custody", { sample: id }, "A step of custody"), to("salt-content", { sample: id }, "Salts"), ...again("sample", "Describe the sample again")],
    "leak test": again("leak-test", "Describe the test again"),
  }[kind] ?? [];
}
