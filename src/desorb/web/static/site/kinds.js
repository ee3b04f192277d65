// What is written down on site: every field of a kind with what stands there when nothing is said.
// The kinds are those of core/kinds; a test compares the two.

const KINDS = {
  visit: { id: "", begun_at: "", by: "", words: "" },
  reading: {
    key: "", spot: "", visit: "", instrument: "", scale: "", values: [], covering: "", taken_at: "", preparation: "as found", finish: "",
    depth_from: "", depth_to: "", temperature: "", species: "", by: "", note: "", source: "",
  },
  "not-read": { spot: "", visit: "", why: "", at: "", instrument: "", scale: "", by: "" },
  "scale-shown": { visit: "", instrument: "", scale: "", shown: "", at: "", when: "start" },
  readiness: { instrument: "", visit: "", battery: "", contacts_free: "", free_air: "", block: "", probe_settled: "", at: "", by: "" },
  "air-reading": {
    key: "", place: "", kind: "", visit: "", instrument: "", temperature: "", relative_humidity: "", taken_at: "", pressure: "",
    surface_temperature: "", surface_method: "", shown_dew_point: "", shown_humidity_ratio: "", settled_minutes: "", by: "", note: "",
    source: "", cap_off: "", height: "", first_temperature: "", first_relative_humidity: "",
  },
  "unit-reading": { key: "", unit: "", visit: "", taken_at: "", hours: "", collected: "", energy: "", by: "", note: "", source: "" },
  scan: { visit: "", zone: "", element: "", area_m2: "", spacing_m: "", edge: "", at: "", by: "" },
  "gate-answer": {
    gate: "", zones: [], materials: [], reference: "", by: "", for_what: "", result: "", at: "", competence: "", wish_to_override: false,
  },
  hazard: { gate: "", zone: "", words: "", at: "", by: "", told_to: "", depth_mm: "", area_m2: "" },
  photo: { sha256: "", media_type: "", size: 0, words: "", taken_at: "", spot: "", zone: "", direction: "", visit: "", by: "" },
  note: { words: "", at: "", by: "", key: "", source: "" },
  "not-inspected": { place: "", why: "", effect: "", elements: [], at: "", by: "" },
  spot: {
    id: "", zone: "", element: "", role: "survey", words: "", x: "", y: "", height: "", why_unaffected: "", offset_a: "",
    offset_a_from: "", offset_b: "", offset_b_from: "",
  },
  "floor-test": {
    id: "", zone: "", method: "", area: "", thickness: "", drying_faces: "", at: "", edition: "", material: "", heated: "",
    power_floated: "", covering: "", adhesive: "", region: "", survey: [], by: "", words: "",
  },
  "floor-place": {
    test: "", place: "", at: "", depth: "", lined: "", sealed: "", survey_place: "", heating_off_at: "", service_since: "", coated: "",
    by: "", words: "",
  },
  "floor-reading": {
    test: "", place: "", at: "", value: "", instrument: "", uncertainty: "", temperature: "", service_temperature: "", drift: "",
    probe_minutes: "", heating_on: "", drying_on: "", air_temperature: "", air_humidity: "", floor_temperature: "",
    probe_checked_at: "", dish_area: "", set_at: "", by: "", note: "",
  },
  sample: {
    id: "", zone: "", element: "", material: "", taken_at: "", height: "", depth_from: "", depth_to: "", line: "", test: "", place: "",
    container: "", by: "", words: "",
  },
  custody: { sample: "", step: "", at: "", by: "", mass: "" },
  weighing: { sample: "", state: "", mass: "", at: "", oven_temperature: "", oven_since: "", regime: "", by: "" },
  "carbide-reading": {
    sample: "", at: "", sample_mass: "", gauge_pressure: "", temperature: "", free_volume: "", crushed: "", temperature_closed: "",
    reagent_mass: "", uncertainty: "", by: "",
  },
  "cup-reading": {
    sample: "", at: "", closed_at: "", humidity: "", temperature: "", instrument: "", uncertainty: "", drift: "", crushed: "",
    probe_checked_at: "", by: "",
  },
  "salt-content": { sample: "", at: "", chloride: "", nitrate: "", sulphate: "", laboratory: "", by: "" },
  "leak-test": {
    id: "", zone: "", test: "", system: "", section: "", start: "", end: "", planned_minutes: "", at_start: "", at_end: "",
    temperature_start: "", temperature_end: "", doubt: "", temperature_doubt: "", allowance: "", allowance_from: "", air_pressure: "",
    litres: "", poured_at: "", watched: [], looked_before: "", arrived_at: "", no_use_by: "", by: "",
    took_in_all: "",
  },
  "cause-observation": { zone: "", name: "", known: "", words: "", at: "", by: "" },
  "cause-test": { zone: "", test: "", words: "", at: "", disproves: [], valid: "yes", by: "" },
  unit: {
    id: "", type: "", at: "", serial: "", name: "", owner: "", litres_per_day: "", rated_temperature: "", rated_humidity: "",
    rating_source: "", domestic: "", flow: "", flow_at: "", watts: "", noise: "", by: "", words: "",
  },
  "unit-change": {
    unit: "", type: "", zone: "", change: "", at: "", words: "", by: "", position: "", direction: "", enclosure: "", circuit: "",
    humidistat: "",
  },
  "not-done": { visit: "", words: "", reason: "", at: "", by: "" },
  strike: { target: "", why: "", by: "", at: "" },
};

export const kindNames = () => Object.keys(KINDS);
export const defaults = (kind) => structuredClone(KINDS[kind]);

// A full payload. A field that the kind does not have is a mistake of ours and is refused.
export function payload(kind, values) {
  const full = defaults(kind);
  for (const [name, value] of Object.entries(values)) {
    if (!(name in full)) throw new Error(`${kind} has no ${name}`);
    full[name] = value;
  }
  return full;
}

export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(8));
  return `site:${[...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("")}`;
}
