// The round: walking order, the value typed in the row of its spot, own keypad below.

import { fill, h } from "../dom.js";
import { before, isDone, roundOf } from "../job.js";
import { Keypad } from "../keypad.js";
import { newKey, payload } from "../kinds.js";
import { oddity, readValue } from "../numbers.js";
import { restingRow, typingRow } from "../rows.js";
import { contextPanel, contextWords, endPanel, mustConfirm, newSweep, reasonPanel, scaleOf, shownEntry, sweepSetup } from "../sweep.js";
import { isToday, moment } from "../words.js";

export async function roundScreen(here, job) {
  const back = `/c/${job.id}`;
  if (!job.visit || !isToday(job.visit.begun_at)) {
    return { title: "The round", back, body: h(".stack", {}, h("p", {}, "There is no visit today. A reading belongs to a visit."), h(".next-place", {}, h("a.button.next", { href: `#${back}` }, "Begin one"))) };
  }
  if (!job.spots.length) {
    return { title: "The round", back, body: h(".stack", {}, h("p", {}, "There is no spot yet."), h(".next-place", {}, h("a.button.next", { href: `#${back}/spot` }, "Mark the first spot"))) };
  }
  return new Round(here, job, back).screen();
}

class Round {
  constructor(here, job, back) {
    Object.assign(this, { here, job, back, visit: job.visit.id, panel: null });
    const kept = here.drafts.sweep(job.id);
    this.sweep = kept?.visit === this.visit ? kept : newSweep(this.visit);
    this.list = h("ol.rows", { "aria-label": "Spots in walking order" });
    this.pad = h(".pad");
    this.keypad = new Keypad(this, { actions: ["over", "under", "none", "repeat"] });
    this.on = { next: () => this.next(), repeat: () => this.repeat(), over: () => this.end(">=", "top"), under: () => this.end("<=", "bottom"), none: () => this.mode("why") };
    const wanted = here.params.get("spot");
    const unfinished = job.spots.find((spot) => this.draft(spot));
    this.current = job.spot(wanted) ?? unfinished ?? this.firstOpen() ?? job.spots[0];
  }

  screen() {
    this.draw();
    return {
      title: "The round", back: this.back, full: true, body: h("section.round", {}, this.list, this.pad), keepsFocus: this.typingByKey,
      opened: () => this.show(),
    };
  }

  draft(spot) {
    return this.here.drafts.values(this.job.id, `round/${spot.id}`);
  }

  get typed() {
    return this.draft(this.current) ?? { text: "", repeats: [] };
  }

  keep(spot, values) {
    const key = `round/${spot.id}`, place = `spot ${spot.id}, ${spot.words || spot.zone}`;
    const route = `/c/${this.job.id}/round?spot=${encodeURIComponent(spot.id)}`;
    if (!values.text && !values.repeats.length) return this.here.drafts.clear(this.job.id, key);
    return this.here.drafts.set(this.job.id, key, place, route, values);
  }

  get = () => this.typed.text;

  set(text) {
    let { repeats } = this.typed;
    const before_ = this.typed.text;
    if (!before_ && !text && repeats.length) [text, repeats] = [repeats.at(-1), repeats.slice(0, -1)]; // delete takes a repeat back
    else if (/^[<>]=/.test(before_) && before_.startsWith(text)) text = "";
    this.type(text, repeats);
    if (this.live.input.value !== text) this.live.input.value = text;
  }

  type(text, repeats = this.typed.repeats) {
    this.keep(this.current, { text, repeats });
    this.live.showRepeats(repeats);
    this.live.say(this.noteOf(text));
    this.keypad.typed();
  }

  nextWords() {
    const { text, repeats } = this.typed;
    return text || repeats.length ? "next" : "skip";
  }

  oddityOf(text) {
    const read = text ? readValue(text) : { problem: "" };
    if (read.problem !== undefined) return "";
    const { scale, instrument } = this.sweep;
    const last = before(this.current, this.visit, scale, instrument).find((reading) => reading.scale === scale && reading.instrument === instrument);
    return oddity(read, scaleOf(this.job, this.sweep), last, this.job.pack.plausible_step);
  }

  end(bound, name) {
    const figure = scaleOf(this.job, this.sweep)?.[name] || this.typed.text.replace(/^[<>]=/, "");
    if (!figure) return this.live.say(`This scale states no ${name}. Type the figure that the instrument shows, then press this key.`, true);
    return this.set(this.typed.text === bound + figure ? "" : bound + figure);
  }

  // -- keeping -----------------------------------------------------------------------------------------------------

  // The typed values, or null when one cannot be read (which is said).
  values() {
    const { text, repeats } = this.typed;
    const read = text ? readValue(text) : null;
    if (read?.problem) {
      this.live.say(read.problem, true);
      this.live.input.focus();
      return null;
    }
    return read ? [...repeats, read.text] : repeats;
  }

  repeat() {
    const values = this.values();
    if (!values || !this.typed.text) return;
    this.live.input.value = "";
    this.type("", values);
  }

  next() {
    const values = this.values();
    if (values === null) return;
    if (!values.length) return void this.advance();
    if (!this.sweep.covering) return this.mode("context");
    if (mustConfirm(this.sweep)) return this.mode("setup");
    const spot = this.current, notes = values.map((value) => this.oddityOf(value)).filter(Boolean);
    const { visit, instrument, scale, covering, preparation, finish, depth_from, depth_to, temperature, species } = this.sweep;
    const key = this.typed.key ?? newKey(); // a reading that was written and whose draft is still here keeps its key
    this.keep(spot, { ...this.typed, key });
    const full = payload("reading", {
      key, spot: spot.id, visit, instrument, scale, values, covering, preparation, finish, depth_from, depth_to, temperature, species,
      taken_at: moment(), by: this.here.who(this.job), note: notes.join(" "),
    });
    this.changeSweep({ last: full.taken_at });
    const reading = { ...full, entry: "", pending: true };
    spot.readings.unshift(reading);
    this.advance();
    this.saving = this.store(spot, "reading", full, reading, `${values.join(" · ")} at ${spot.id}`);
  }

  async store(spot, kind, full, reading, words) {
    try {
      const entry = await this.here.store.write(this.job.id, kind, full);
      Object.assign(reading ?? {}, { entry: entry.name, local: entry, pending: false });
      if (kind === "not-read") spot.notRead.push(entry);
      await this.here.drafts.clear(this.job.id, `round/${spot.id}`);
      this.redrawRow(spot);
      this.show();
      this.here.undo.offer(words, async () => {
        await this.here.strike(this.job, entry, "undone at once");
        spot.readings = spot.readings.filter((each) => each !== reading);
        spot.notRead = spot.notRead.filter((each) => each !== entry);
        if (!this.list.isConnected) return this.here.again();
        return this.pick(spot);
      });
    } catch (problem) {
      spot.readings = spot.readings.filter((each) => each !== reading); // the draft still holds what was typed
      this.pick(spot);
      this.here.trouble(problem);
    }
  }

  noReading(why) {
    const spot = this.current, { visit, instrument, scale } = this.sweep;
    const full = payload("not-read", { spot: spot.id, visit, why, at: moment(), instrument, scale, by: this.here.who(this.job) });
    this.advance(true); // draws the keypad again: the question is about the spot that is left
    this.saving = this.store(spot, "not-read", full, null, `No reading at ${spot.id}`);
  }

  // -- moving ------------------------------------------------------------------------------------------------------

  order() {
    return roundOf(this.job, this.sweep);
  }

  firstOpen(after = null, leaving = null) {
    const order = this.order();
    const start = after ? order.indexOf(after) + 1 : 0;
    const open = (spot) => spot !== leaving && !isDone(spot, this.sweep);
    return order.slice(start).find(open);
  }

  advance(leave = false) {
    const following = this.firstOpen(this.current, leave ? this.current : null);
    if (following) return this.pick(following);
    this.panel = "end";
    return this.draw();
  }

  pick(spot) {
    const hadFocus = this.live && document.activeElement === this.live.input;
    const old = this.current;
    this.current = spot;
    if (this.panel !== "pad") {
      this.panel = "pad";
      this.draw();
    } else {
      if (old !== spot) this.redrawRow(old);
      this.redrawRow(spot);
      this.keypad.refresh();
    }
    this.show();
    if (hadFocus) this.live.input.focus({ preventScroll: true });
  }

  show() {
    const row = this.rowOf(this.current);
    if (row) this.list.scrollTop = row.offsetTop;
  }

  // -- drawing -----------------------------------------------------------------------------------------------------

  mode(panel) {
    this.panel = panel;
    this.draw();
    (this.pad.querySelector("h2, legend, input") ?? this.pad).scrollIntoView?.({ block: "nearest" });
    this.pad.querySelector("input, button")?.focus({ preventScroll: true });
  }

  rowOf(spot) {
    return [...this.list.children].find((row) => row.dataset.spot === spot.id);
  }

  makeRow(spot) {
    if (spot !== this.current || this.panel !== "pad") {
      const values = this.draft(spot);
      const saving = spot.readings[0]?.pending;
      const pending = values && !saving ? [...values.repeats, values.text].filter(Boolean).join(" · ") : "";
      return restingRow(spot, this.sweep, { pending, pick: (each) => this.pick(each) });
    }
    const key = (event) => {
      if (event.key !== "Enter") return;
      event.preventDefault();
      if (!event.repeat) this.keypad.pressNext();
    };
    this.live = typingRow(spot, this.sweep, scaleOf(this.job, this.sweep), {
      ...this.typed, type: (text) => this.type(text), key, openContext: () => this.mode("context"),
    });
    this.live.say(this.noteOf(this.typed.text));
    return this.live.row;
  }

  // Beside the value: what looks odd, or that the last visit read this spot through another covering than now.
  noteOf(text) {
    const { covering } = this.sweep, [last] = before(this.current, this.visit, this.sweep.scale, this.sweep.instrument);
    const other = last && covering && last.covering !== covering ? `${contextWords({ covering })}; ${last.visit}: ${last.covering}` : "";
    return this.oddityOf(text) || other;
  }

  redrawRow(spot) {
    const row = this.rowOf(spot);
    if (row) row.replaceWith(this.makeRow(spot));
  }

  draw() {
    if (this.sweep.confirmed && mustConfirm(this.sweep)) this.changeSweep({ confirmed: false, when: "pause" });
    this.panel ??= this.sweep.scale && !mustConfirm(this.sweep) ? "pad" : "setup";
    fill(this.list, this.job.spots.map((spot) => this.makeRow(spot)));
    fill(this.pad, this.panelNow());
    this.keypad.typed();
    this.show();
  }

  panelNow() {
    const toPad = () => {
      this.panel = mustConfirm(this.sweep) ? "setup" : "pad";
      this.draw();
      this.show();
    };
    const setup = (when) => {
      this.changeSweep({ confirmed: false, when });
      this.mode("setup");
    };
    switch (this.panel) {
      case "pad": return this.keypad.element;
      case "why": return reasonPanel({ spot: this.current, done: (why) => this.noReading(why), cancel: toPad });
      case "context": return contextPanel({
        job: this.job, sweep: this.sweep, lastTime: before(this.current, this.visit, this.sweep.scale, this.sweep.instrument)[0]?.covering,
        change: (parts) => this.changeSweep(parts), close: toPad, setup: () => setup("change"), pause: () => setup("pause"),
      });
      case "end": return endPanel({ order: this.order(), sweep: this.sweep, back: this.back, pick: (spot) => this.pick(spot), setup: () => setup("change") });
      default: return sweepSetup({ job: this.job, sweep: this.sweep, change: (parts) => this.changeSweep(parts), redraw: () => this.mode("setup"), done: (shown) => this.scaleConfirmed(shown) });
    }
  }

  changeSweep(parts) {
    this.sweep = { ...this.sweep, ...parts };
    return this.here.drafts.setSweep(this.job.id, this.sweep);
  }

  async scaleConfirmed(shown) {
    await this.here.write(this.job, "scale-shown", shownEntry(this.sweep, shown), { undo: false });
    this.changeSweep({ confirmed: true, last: moment(), when: "start" });
    const order = this.order();
    if (!order.includes(this.current) || isDone(this.current, this.sweep)) this.current = this.firstOpen() ?? order[0];
    this.panel = this.sweep.covering ? "pad" : "context"; // that of the last visit is offered first there, never taken by itself
    this.draw();
  }
}
