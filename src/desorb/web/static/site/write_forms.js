// What can be written down of the methods beside the scan and of the drying: each kind with its questions.
//
// A part is [name, label, how]; `how` says what it takes: figure, now (a time; left empty it is that of keeping), time,
// zone, instrument, area, lines, pick (words of the office); `only` keeps it to some methods. `chosen` is chosen before
// anything else is shown, because cautions hang on it. `needs` is what a record cannot do without; from `fold` on the
// questions stand folded away under a few words.

const FIGURE = { figure: true }, PICK = { pick: true }, TIME = { time: true };
const now = ["at", "When", { now: true }];
const DRILLED = ["hole", "sleeve"];

export const FORMS = {
  "floor-test": {
    title: "A floor test", chosen: "method", needs: ["id", "zone", "area", "thickness", "drying_faces"], stem: "F",
    parts: [
      ["id", "Id of the test"], ["zone", "Zone", { zone: true }], ["area", "Area, in m²", FIGURE], ["thickness", "Thickness, in mm", FIGURE],
      ["drying_faces", "Faces it dries from", PICK], ["edition", "Edition of the standard, a year", { ...FIGURE, only: ["hole"] }],
      ["material", "What the base is made of"], ["heated", "Heating in the floor", PICK], ["power_floated", "Power floated", { ...PICK, only: ["box"] }],
      ["covering", "Covering that shall lie on it"], ["adhesive", "Adhesive"], ["region", "Country", { hint: "of the limit, in two letters" }],
      ["words", "In words", { area: true }], now,
    ],
    after: "Plan, waiting time and limit are worked out in the office and come with the next pack.",
  },
  "floor-place": {
    title: "A place of the test", needs: ["place", "at"],
    parts: [
      ["place", "Name of the place", { hint: "as it is marked on the floor" }],
      ["at", "Drilled, sealed or ground bare at", { ...TIME, hint: "waiting counts from here" }],
      ["depth", "Depth, in mm", { ...FIGURE, only: [...DRILLED, "carbide", "crushed sample"] }], ["lined", "The hole is lined", { ...PICK, only: DRILLED }],
      ["sealed", "The box is sealed to the floor all round", { ...PICK, only: ["box"] }], ["coated", "The place is coated or patched", { ...PICK, only: ["dish"] }],
      ["service_since", "Floor and air as in use since", TIME], ["heating_off_at", "Heating and drying units off since", TIME],
      ["survey_place", "Place of the survey that it tests"], ["words", "Where it is, in words", { area: true }],
    ],
  },
  "floor-reading": {
    title: "A reading of the floor", needs: ["place", "value"], fold: { from: "uncertainty", words: "Doubt, state of floor and air, note, time" },
    parts: [
      ["place", "Name of the place"], ["value", "Relative humidity, in %", { ...FIGURE, not: ["dish"] }], ["value", "Gain of mass, in g", { ...FIGURE, only: ["dish"] }],
      ["instrument", "Instrument", { instrument: true }], ["temperature", "Temperature in the hole, in °C", { ...FIGURE, only: DRILLED }],
      ["drift", "Drift in the last 5 min, in % RH", { ...FIGURE, only: DRILLED }],
      ["probe_minutes", "Minutes that the probe was in the box", { ...FIGURE, only: ["box"] }],
      ["dish_area", "Area of the dish, in ft²", { ...FIGURE, only: ["dish"] }], ["set_at", "Dish sealed in at", { ...TIME, only: ["dish"] }],
      ["uncertainty", "Either way, in the unit of the value", FIGURE], ["service_temperature", "Temperature of the floor in use, in °C", { ...FIGURE, only: DRILLED }],
      ["heating_on", "Heating in the floor is on", PICK], ["drying_on", "Units that dry the air are on", PICK],
      ["air_temperature", "Air of the room, in °C", FIGURE], ["air_humidity", "Air of the room, in % RH", FIGURE],
      ["floor_temperature", "Surface of the floor, in °C", FIGURE],
      ["probe_checked_at", "Probe checked at", { ...TIME, hint: "only where the check stands elsewhere" }], ["note", "Note", { area: true }], now,
    ],
    after: "What stays empty is not stated; the office then says what the test lacks.",
  },
  sample: {
    title: "A sample", actions: ["take a sample"], needs: ["id", "zone", "element", "material"], stem: "S",
    parts: [
      ["id", "Id of the sample"], ["zone", "Zone", { zone: true }], ["element", "Element", { hint: "floor, north wall" }], ["material", "Material"],
      ["place", "Place of the floor test", { hint: "for a wall leave it empty" }], ["depth_from", "From depth, in mm", FIGURE], ["depth_to", "To depth, in mm", FIGURE],
      ["height", "Height above floor, in m", FIGURE], ["line", "Vertical line", { hint: "samples of one line share its name" }],
      ["container", "Container"], ["words", "Where it was taken, in words", { area: true }], ["taken_at", "Taken at", { now: true }],
    ],
  },
  custody: {
    title: "A step of custody", needs: ["step"],
    parts: [["step", "Step", PICK], ["mass", "Mass with the container, in g", FIGURE], now],
  },
  weighing: {
    title: "A weighing", needs: ["state", "mass"],
    parts: [
      ["state", "State", PICK], ["mass", "Mass, net of its dish, in g", FIGURE], ["oven_temperature", "Oven, in °C", FIGURE],
      ["oven_since", "In the oven since", TIME], ["regime", "Air of the oven, in words"], now,
    ],
  },
  "carbide-reading": {
    title: "A carbide test", actions: ["carbide test"], needs: ["sample_mass", "gauge_pressure", "temperature", "free_volume"],
    parts: [
      ["sample_mass", "Mass of the moist sample, in g", FIGURE], ["gauge_pressure", "Gauge pressure, in bar", FIGURE],
      ["temperature", "Temperature at the reading, in °C", FIGURE], ["free_volume", "Free volume, in mL", { ...FIGURE, hint: "net of sample, balls and glass" }],
      ["crushed", "The sample is crushed fully", PICK], ["temperature_closed", "Temperature when it was closed, in °C", FIGURE],
      ["reagent_mass", "Mass of the reagent, in g", FIGURE], ["uncertainty", "Either way, in CM-%", FIGURE], now,
    ],
  },
  "cup-reading": {
    title: "Air over a crushed sample", needs: ["closed_at", "humidity", "temperature"],
    parts: [
      ["closed_at", "The cup was closed at", TIME], ["humidity", "Relative humidity, in %", FIGURE], ["temperature", "Temperature, in °C", FIGURE],
      ["instrument", "Instrument", { instrument: true }], ["uncertainty", "Either way, in % RH", FIGURE], ["drift", "Drift in the last 5 min, in % RH", FIGURE],
      ["crushed", "The sample is crushed fully", PICK], ["probe_checked_at", "Probe checked at", { ...TIME, hint: "only where the check stands elsewhere" }], now,
    ],
  },
  "salt-content": {
    title: "Salts of a sample", needs: [],
    parts: [
      ["chloride", "Chloride, in mass-%", FIGURE], ["nitrate", "Nitrate, in mass-%", FIGURE], ["sulphate", "Sulphate, in mass-%", FIGURE],
      ["laboratory", "Laboratory"], now,
    ],
    oneOf: ["chloride", "nitrate", "sulphate"],
  },
  "leak-test": {
    title: "A leak test", chosen: "test", needs: ["id", "zone", "system", "section", "start", "end", "planned_minutes"], stem: "L",
    parts: [
      ["id", "Id of the test"], ["zone", "Zone that could be wetted", { zone: true }], ["system", "System", PICK], ["section", "Section, from where to where"],
      ["start", "Begun at", TIME], ["planned_minutes", "Minutes planned", FIGURE],
      ["at_start", "Gauge at the start, in bar", { ...FIGURE, only: ["pressure hold in air", "pressure hold in water"] }],
      ["temperature_start", "Temperature at the start, in °C", { ...FIGURE, only: ["pressure hold in air", "pressure hold in water"] }],
      ["at_start", "Level at the start, in mm", { ...FIGURE, only: ["standing water"] }], ["at_start", "Meter at the start, in litres", { ...FIGURE, only: ["meter no-use"] }],
      ["litres", "Poured, in litres", { ...FIGURE, only: ["dye"] }], ["poured_at", "Poured into", { only: ["dye"] }],
      ["watched", "Places watched", { lines: true, only: ["dye"] }], ["looked_before", "The places were looked at before", { ...PICK, only: ["dye"] }],
      ["arrived_at", "Colour arrived at", { only: ["dye"], hint: "a place; empty if none arrived" }],
      ["air_pressure", "Air pressure of the day, in bar", { ...FIGURE, only: ["pressure hold in air"] }],
      ["end", "Ended at", TIME],
      ["at_end", "Gauge at the end, in bar", { ...FIGURE, only: ["pressure hold in air", "pressure hold in water"] }],
      ["temperature_end", "Temperature at the end, in °C", { ...FIGURE, only: ["pressure hold in air", "pressure hold in water"] }],
      ["at_end", "Level at the end, in mm", { ...FIGURE, only: ["standing water"] }], ["at_end", "Meter at the end, in litres", { ...FIGURE, only: ["meter no-use"] }],
      ["doubt", "Doubt of one reading, in its unit", { ...FIGURE, not: ["dye"] }],
      ["temperature_doubt", "Doubt of a temperature, in K", { ...FIGURE, only: ["pressure hold in air", "pressure hold in water"] }],
      ["allowance", "Allowed for evaporation, in mm", { ...FIGURE, only: ["standing water"] }], ["allowance_from", "Where that allowance comes from", { only: ["standing water"] }],
      ["no_use_by", "Who says that no water was used", { only: ["meter no-use"] }],
      ["took_in_all", "Took in all of the system that could wet this place, a hold at working pressure", { ...PICK, not: ["meter no-use"] }],
    ],
    after: "Fill it in as the test begins and leave it: what stands here is kept as a draft until the test has ended.",
  },
  "cause-observation": {
    title: "Something about a cause", needs: ["zone", "name", "known", "words"],
    parts: [["zone", "Zone", { zone: true }], ["name", "What was observed", { select: true }], ["known", "How it is known", PICK], ["words", "In your own words", { area: true }], now],
  },
  "cause-test": {
    title: "A test of a cause", needs: ["zone", "test", "words", "valid"],
    parts: [
      ["zone", "Zone", { zone: true }], ["test", "Which test", { select: true }], ["words", "What it showed", { area: true }],
      ["disproves", "Causes that it speaks out", { lines: true }], ["valid", "The test was valid", PICK], now,
    ],
  },
  unit: {
    title: "A drying unit of the register", needs: ["id", "type"], back: "units", fold: { from: "serial", words: "Plate, rating, air, power, noise" },
    parts: [
      ["id", "Id of the unit", { hint: "as it stands on the unit" }], ["type", "Type", PICK], ["serial", "Serial number"], ["name", "Name on its plate"], ["owner", "Owner"],
      ["litres_per_day", "Rated, in litres a day", FIGURE], ["rated_temperature", "Temperature of that rating, in °C", FIGURE],
      ["rated_humidity", "Humidity of that rating, in %", FIGURE], ["rating_source", "Where the rating stands"], ["domestic", "A domestic unit", PICK],
      ["flow", "Air, in m³/h", FIGURE], ["flow_at", "That air was measured at", PICK], ["watts", "Power, in W", FIGURE],
      ["noise", "Noise, in dB(A), with its distance"], ["words", "In words", { area: true }], now,
    ],
  },
  "unit-change": {
    title: "A unit set, moved, switched or taken away", actions: ["move air", "energise"], needs: ["unit", "type", "zone", "change"], back: "units",
    parts: [
      ["unit", "Id of the unit", { hint: "as it stands on the unit" }], ["change", "What happened", PICK], ["zone", "Zone", { zone: true }],
      ["type", "Type", { pickOf: ["unit", "type"] }], ["position", "Position", { hint: "as it can be found again" }],
      ["direction", "What its air is blown at or drawn from"], ["enclosure", "Enclosure"], ["circuit", "Circuit it is plugged into"],
      ["humidistat", "Humidistat set to, in %", { ...FIGURE, hint: "empty without one" }], ["words", "In words", { area: true }], now,
    ],
  },
  "not-done": {
    title: "Something that was not done", needs: ["words", "reason"], ofVisit: true, back: "",
    parts: [["words", "What should have been done"], ["reason", "Why it was not done"], now],
  },
};

// The parts of a form for one method, each name once.
export const partsOf = (kind, method = "") => FORMS[kind].parts.filter(([, , how = {}]) => (!how.only || how.only.includes(method))
  && !how.not?.includes(method));
