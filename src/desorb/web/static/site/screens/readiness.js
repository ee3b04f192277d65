// Is each instrument fit to use? Looked at before the first reading of a visit; what was not looked at says so.

import { button, choice, h } from "../dom.js";
import { moment } from "../words.js";

const PARTS = [
  ["battery", "Battery"], ["contacts_free", "Contacts free and clean"], ["free_air", "In free air it shows the bottom of its scale"],
  ["block", "Check block read within its tolerance"], ["probe_settled", "Probe has the temperature of the air"],
];
const ANSWERS = [["yes", "yes"], ["no", "no"], ["", "not looked at"]];

export async function readinessScreen(here, job) {
  const back = `/c/${job.id}`;
  if (!job.visit) return { title: "Instruments", back, body: h("p", {}, "There is no visit yet. Begin one first.") };
  const body = h(".stack", {}, job.instruments.map((instrument) => one(here, job, instrument)));
  return { title: "Instruments, fit to use", back, body };
}

function one(here, job, instrument) {
  const key = `ready/${instrument.id}`;
  const done = job.of("readiness").filter(({ payload: p }) => p.instrument === instrument.id && p.visit === job.visit.id).at(-1);
  const values = here.drafts.values(job.id, key) ?? Object.fromEntries(PARTS.map(([part]) => [part, done?.payload[part] ?? ""]));
  const keep = (part) => (answer) => {
    values[part] = answer;
    here.drafts.set(job.id, key, `instrument ${instrument.id}`, `/c/${job.id}/instruments`, values);
  };
  const save = async () => {
    await here.write(job, "readiness", { ...values, instrument: instrument.id, visit: job.visit.id, at: moment(), by: here.who(job) });
    await here.drafts.clear(job.id, key);
    await here.again();
  };
  return h("section.form", {}, h("h2", {}, `${instrument.id}: ${instrument.words}`),
    h("p", {}, [instrument.serial && `Serial ${instrument.serial}.`, instrument.calibration_due && ` Calibration due ${instrument.calibration_due}.`]),
    !instrument.fit && h("p.said-problem", {}, `Not fit to rest a pass on: ${instrument.why_not}`),
    done && h("p", {}, `Looked at in this visit: ${PARTS.map(([part, words]) => `${words}: ${done.payload[part] || "not looked at"}`).join("; ")}.`),
    PARTS.map(([part, words]) => choice(words, ANSWERS, values[part], keep(part))),
    h(".next-place", {}, button(`Keep for ${instrument.id}`, save, "next")));
}
