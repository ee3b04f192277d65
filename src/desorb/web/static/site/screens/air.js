// Air: rows of places, outside first. Two readings minutes apart say how far the probe has settled.

import { airOf, besideOutside } from "../air.js";
import { button, choice, field, fill, h, selection } from "../dom.js";
import { Keypad } from "../keypad.js";
import { newKey } from "../kinds.js";
import { stateMark } from "../marks.js";
import { asNumber, readValue } from "../numbers.js";
import { isToday, moment } from "../words.js";

const KINDS = ["outside", "affected", "unaffected", "void"];
const FIGURES = [["temperature", "Temperature, in °C"], ["relative_humidity", "Humidity, in % RH"]];
const MORE = [["surface_temperature", "Coldest surface, in °C"], ["height", "Height above floor, in m"], ["settled_minutes", "Minutes waited"]];
const EMPTY = { temperature: "", relative_humidity: "", first_temperature: "", first_relative_humidity: "", first_at: "", surface_temperature: "", surface_method: "", height: "", settled_minutes: "", cap_off: "", note: "" };

export async function airScreen(here, job) {
  const back = `/c/${job.id}`;
  if (!job.visit || !isToday(job.visit.begun_at)) return { title: "Air", back, body: h("p", {}, "There is no visit today. Begin one first.") };
  return new Air(here, job, back).screen();
}

class Air {
  constructor(here, job, back) {
    Object.assign(this, { here, job, back, places: job.airPlaces.filter(({ kind }) => !["inlet", "outlet"].includes(kind)) });
    if (!this.places.some(({ kind }) => kind === "outside")) this.places.unshift({ place: "outside", kind: "outside", last: null });
    const wanted = here.params.get("place");
    const done = (place) => place.last?.visit === job.visit.id;
    this.current = this.places.find(({ place }) => place === wanted) ?? this.places.find((place) => this.draft(place)) ?? this.places.find((place) => !done(place)) ?? null;
    const fits = (each) => each.scales.some(({ principle }) => principle === "relative humidity");
    this.instrument = here.drafts.sweep(job.id)?.air ?? (job.instruments.find(fits) ?? job.instruments[0])?.id ?? "";
    this.list = h("ol.rows", { "aria-label": "Places, outside first" });
    this.pad = h(".pad");
    this.on = { next: () => this.next(), first: () => this.first() };
    this.keypad = new Keypad(this, { actions: ["first"] });
  }

  screen() {
    this.draw();
    return { title: "Air", back: this.back, full: true, body: h("section.round.air", {}, this.list, this.pad), opened: () => this.show() };
  }

  key(place) {
    return `air/${place.kind}/${place.place}`;
  }

  draft(place) {
    return this.here.drafts.values(this.job.id, this.key(place));
  }

  keep(parts) {
    this.values = { ...this.values, ...parts };
    const { place } = this.current;
    this.here.drafts.set(this.job.id, this.key(this.current), `air, ${place}`, `/c/${this.job.id}/air?place=${encodeURIComponent(place)}`, this.values);
    this.words();
    this.keypad.typed();
  }

  // The keypad types into the field that was last chosen.
  get() {
    return this.values[this.active];
  }

  set(text) {
    this.inputs[this.active].value = text;
    this.keep({ [this.active]: text });
  }

  nextWords() {
    return this.active === "temperature" ? "next" : "keep";
  }

  activate(name) {
    this.active = name;
    for (const [each, input] of Object.entries(this.inputs)) input.classList.toggle("active", each === name);
    this.keypad.refresh();
  }

  next() {
    if (this.active !== "temperature") return this.save();
    const byKey = document.activeElement === this.inputs.temperature;
    this.activate("relative_humidity");
    if (byKey) this.inputs.relative_humidity.focus();
    return undefined;
  }

  draw() {
    const rows = this.places.map((place) => (place === this.current ? this.typing(place) : this.resting(place)));
    fill(this.list, h("li.row", {}, selection("Instrument", this.job.instruments.map(({ id, words }) => [id, `${id}: ${words}`]), this.instrument, (id) => (this.instrument = id))),
      rows, h("li.row", {}, this.another()));
    fill(this.pad, this.current ? this.keypad.element : h("p", { role: "status" }, "Every place has its reading of this visit."));
    if (this.current) this.words();
    this.keypad.refresh();
  }

  show() {
    const row = this.list.querySelector(".typing");
    if (row) this.list.scrollTop = row.offsetTop;
  }

  resting(place) {
    const last = place.last;
    const isNow = last?.visit === this.job.visit.id;
    return h("li.row", {}, h("button.pick", { type: "button", onclick: () => this.pick(place) },
      h("span.name", {}, h("b", {}, place.place), ` ${place.kind}`),
      last ? h("span.pasts", {}, `${last.visit}: ${last.temperature} °C, ${last.relative_humidity} % `, isNow && last.local && stateMark(last.local)) : h("span.pasts", {}, "no reading yet"),
      !isNow && h("span.now", {}, "not read this visit"), isNow && this.sentence(last, place)));
  }

  pick(place) {
    this.current = place;
    this.draw();
    this.show();
  }

  typing(place) {
    this.values = { ...EMPTY, ...this.draft(place) };
    this.inputs = {};
    const figure = ([name, label], big) => {
      const box = field(`${label}`, this.values[name], (text) => this.keep({ [name]: text }), {
        inputmode: "decimal", onfocus: () => this.activate(name), class: big ? "value" : "",
        onpointerdown: (event) => {
          if (event.pointerType !== "touch") return;
          event.preventDefault(); // our keypad types into it; the one of the device stays away
          this.activate(name);
        },
        onmousedown: (event) => event.sourceCapabilities?.firesTouchEvents && event.preventDefault(),
        onkeydown: (event) => event.key === "Enter" && (event.preventDefault(), this.keypad.pressNext()),
      });
      this.inputs[name] = box.input;
      return box;
    };
    this.said = h("p.note", { role: "status" });
    const row = h("li.row.typing", { "aria-current": "true" },
      h("p.name", {}, h("b", {}, place.place), ` ${place.kind}${place.last ? `, ${place.last.visit}: ${place.last.temperature} °C, ${place.last.relative_humidity} %` : ""}`),
      h(".pair", {}, FIGURES.map((each) => figure(each, true))), this.said,
      h("details", {}, h("summary", {}, "Cap, height, waiting, surface"),
        choice("Cap off the probe", [["yes", "yes"], ["no", "no"], ["", "not said"]], this.values.cap_off, (cap_off) => this.keep({ cap_off })),
        MORE.map((each) => figure(each, false)),
        choice("How the surface was read", [["contact", "contact"], ["infrared", "infrared"], ["", "not said"]], this.values.surface_method, (surface_method) => this.keep({ surface_method }))));
    this.activate(this.values.temperature ? "relative_humidity" : "temperature");
    return row;
  }

  first() {
    const problem = this.problem();
    if (problem) return this.say(problem, true);
    const { temperature, relative_humidity } = this.values;
    for (const name of ["temperature", "relative_humidity"]) this.inputs[name].value = "";
    this.keep({ first_temperature: temperature.trim(), first_relative_humidity: relative_humidity.trim(), first_at: moment(), temperature: "", relative_humidity: "" });
    return this.activate("temperature");
  }

  // What is wrong with the two figures, in words, or "".
  problem() {
    const { temperature, relative_humidity } = this.values;
    if (!temperature.trim() || !relative_humidity.trim()) return "Temperature and relative humidity belong together: one alone derives nothing. Next: read the other.";
    for (const [name] of [...FIGURES, ...MORE]) {
      const read = this.values[name].trim() ? readValue(this.values[name]) : {};
      if (read.problem) return read.problem;
      if (read.bound) return "This is the end of a scale, not a figure. Next: read it again, or leave it out.";
    }
    return airOf(asNumber(temperature), asNumber(relative_humidity)).problem ?? "";
  }

  say(words, isProblem = false) {
    if (this.said.textContent !== words) this.said.textContent = words;
    this.said.classList.toggle("said-problem", isProblem);
  }

  words() {
    const { temperature, relative_humidity, first_temperature, first_relative_humidity, first_at } = this.values;
    const parts = [];
    if (first_temperature) parts.push(`First reading: ${first_temperature} °C, ${first_relative_humidity} %.`);
    if (temperature && relative_humidity && !this.problem()) {
      if (first_temperature) parts.push(drift(this.values, first_at));
      parts.push(this.sentence({ temperature, relative_humidity }, this.current));
    }
    this.say(parts.join(" "));
  }

  sentence({ temperature, relative_humidity }, { kind }) {
    if (kind === "outside") return "";
    const outside = this.places.find((place) => place.kind === "outside" && place.last?.visit === this.job.visit.id)?.last;
    if (!outside) return "The comparison with outside waits for an outside reading of this visit.";
    const own = airOf(asNumber(temperature), asNumber(relative_humidity));
    const beyond = airOf(asNumber(outside.temperature), asNumber(outside.relative_humidity));
    return own.problem ?? beyond.problem ?? besideOutside(own, beyond);
  }

  async save() {
    const problem = this.problem();
    if (problem) return this.say(problem, true);
    if (this.busy) return undefined;
    this.busy = true;
    try {
      return await this.write();
    } catch (trouble) {
      return this.here.trouble(trouble);
    } finally {
      this.busy = false;
    }
  }

  async write() {
    const plain = (name) => (this.values[name].trim() ? readValue(this.values[name]).number : "");
    const { first_at, cap_off, surface_method } = this.values;
    const { place, kind } = this.current, drafted = this.key(this.current);
    const first = Object.fromEntries(["first_temperature", "first_relative_humidity"].map((name) => [name, plain(name)]));
    await this.here.write(this.job, "air-reading", {
      key: newKey(), place, kind, visit: this.job.visit.id, instrument: this.instrument, taken_at: moment(), cap_off, surface_method, ...first,
      ...Object.fromEntries([...FIGURES, ...MORE].map(([name]) => [name, plain(name)])),
      note: first_at ? `${drift(this.values, first_at)}` : "", by: this.here.who(this.job),
    });
    await this.here.drafts.clear(this.job.id, drafted);
    return this.here.go(`/c/${this.job.id}/air`);
  }

  another() {
    const values = { place: "", kind: "affected" };
    const add = () => {
      if (!values.place.trim()) return;
      const made = { place: values.place.trim(), kind: values.kind, last: null };
      this.places.push(made);
      this.pick(made);
    };
    return h("details", {}, h("summary", {}, "Another place"), field("Name of the place", "", (text) => (values.place = text)),
      choice("Which air is it", KINDS, values.kind, (kind) => (values.kind = kind)), button("Add the place", add));
  }
}

function drift(values, firstAt) {
  const change = (name) => {
    const size = asNumber(values[name]) - asNumber(values[`first_${name}`]);
    return `${size < 0 ? "−" : "+"}${Math.abs(size).toFixed(1)}`;
  };
  const minutes = Math.round((Date.now() - new Date(firstAt).getTime()) / 60000);
  return `Since the first reading, ${minutes} min before: ${change("temperature")} K, ${change("relative_humidity")} % RH.`;
}
