// What was written on this device: newest first, each with its state. Struck lines stay, crossed through.

import { button, field, h, icon } from "../dom.js";
import { stateMark } from "../marks.js";
import { clockTime, entryWords } from "../words.js";

export async function writtenScreen(here, job) {
  const aside = here.drafts.aside(job.id);
  const entries = job.entries.filter((entry) => entry.kind !== "strike").reverse();
  const body = h(".stack", {},
    aside.length > 0 && h("section", {}, h("h2", {}, "Set aside, not saved"), h("ul", {}, aside.map((form) => h("li", {},
      h("p", {}, `${form.place}, ${clockTime(form.at)}: ${Object.values(form.values).flat().filter((value) => typeof value === "string" && value).join(", ")}`),
      button("Take it up again", async () => {
        await here.drafts.takeUp(form);
        here.go(form.route);
      }, "quiet"))))),
    entries.length === 0 && h("p", {}, "Nothing was written on this device yet."),
    h("ul.written", {}, entries.map((entry) => line(here, job, entry))));
  return { title: "What was written", back: `/c/${job.id}`, body };
}

function line(here, job, entry) {
  const words = entryWords(entry);
  const strike = job.strikeOf(entry);
  const struck = job.isStruck(entry);
  const row = h("li", {}, h("p", {}, struck && icon("struck"), h(struck ? "s" : "span", {}, words), ` ${clockTime(entry.claimed_at)} `, stateMark(entry)),
    struck && h("p.hint", {}, `struck: ${strike?.payload.why}, by ${strike?.payload.by || "nobody named"}, ${clockTime(strike?.payload.at)} `, strike && stateMark(strike)));
  if (!struck) {
    const open = h("button.quiet", { type: "button", "aria-label": `Strike: ${words}`, onclick: () => ask() }, "Strike");
    const ask = () => {
      const key = `strike/${entry.name}`;
      const values = here.drafts.values(job.id, key) ?? { why: "" };
      const reason = field("Why it is struck", values.why, (text) => {
        values.why = text;
        here.drafts.set(job.id, key, `strike of ${words}`, `/c/${job.id}/written`, values);
      });
      const save = async () => {
        if (!values.why.trim()) {
          problem.hidden = false;
          return reason.input.focus();
        }
        await here.strike(job, entry, values.why.trim());
        await here.drafts.clear(job.id, key);
        here.announce("Struck. The line and the reason stay in the record.");
        return here.again();
      };
      const problem = h("p.said-problem", { role: "alert" }, "A strike needs a reason. Next: write it in a few words.");
      problem.hidden = true;
      open.replaceWith(h("section.form", {}, reason, problem, h(".row-of-keys", {}, button("Strike it", save, "next"), button("Leave it", () => here.again(), "quiet"))));
      reason.input.focus();
    };
    row.append(open);
    if (here.drafts.values(job.id, `strike/${entry.name}`)) queueMicrotask(ask);
  }
  return row;
}
