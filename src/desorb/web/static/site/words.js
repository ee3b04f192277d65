// Times, ages and states in words.

const two = (number) => String(number).padStart(2, "0");

// Now, ISO 8601 with the offset of this device.
export function moment(at = new Date()) {
  const offset = -at.getTimezoneOffset();
  const size = Math.abs(offset);
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}T${two(at.getHours())}:${two(at.getMinutes())}:${two(at.getSeconds())}`
    + `${offset < 0 ? "-" : "+"}${two(Math.trunc(size / 60))}:${two(size % 60)}`;
}

const MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"];

export function clockTime(iso) {
  const at = new Date(iso);
  if (!iso || Number.isNaN(at.getTime())) return "";
  const time = `${two(at.getHours())}:${two(at.getMinutes())}`;
  return at.toDateString() === new Date().toDateString() ? time : `${at.getDate()} ${MONTHS[at.getMonth()]}, ${time}`;
}

export const dayOf = (iso) => {
  const at = new Date(iso);
  return Number.isNaN(at.getTime()) ? iso : `${at.getDate()} ${MONTHS[at.getMonth()]} ${at.getFullYear()}`;
};

// Every raw time in a text as a local time of the case, with its zone: 2 March 2026, 14:30 GMT.
const RAW = /\d{4}-\d\d-\d\dT\d\d:\d\d(?::\d\d(?:\.\d+)?)?(?:Z|[+-]\d\d:\d\d)/g;

export function readable(text, zone) {
  return String(text ?? "").replace(RAW, (raw) => {
    const at = new Date(raw);
    if (Number.isNaN(at.getTime())) return raw;
    const parts = { day: "numeric", month: "long", year: "numeric", hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZoneName: "short" };
    try {
      const of = Object.fromEntries(new Intl.DateTimeFormat("en-GB", { ...parts, timeZone: zone || undefined }).formatToParts(at).map(({ type, value }) => [type, value]));
      return `${of.day} ${of.month} ${of.year}, ${of.hour}:${of.minute} ${of.timeZoneName}`;
    } catch {
      return raw; // a zone that this browser does not know
    }
  });
}

// A time for a field of date and time, in the clock of this device; "" for none.
export function localInput(iso) {
  const at = new Date(iso || NaN);
  return Number.isNaN(at.getTime()) ? "" : moment(at).slice(0, 16);
}

export const isToday = (iso) => new Date(iso).toDateString() === new Date().toDateString();

export function age(iso) {
  const minutes = (Date.now() - new Date(iso).getTime()) / 60000;
  if (!(minutes >= 0)) return "";
  if (minutes < 60) return count(Math.floor(minutes), "minute");
  return minutes < 48 * 60 ? count(Math.floor(minutes / 60), "hour") : count(Math.floor(minutes / 1440), "day");
}

export const count = (number, word) => `${number} ${word}${number === 1 ? "" : "s"}`;

export function stateWords(state, receivedAt = "", reason = "") {
  if (state === "received") return receivedAt ? `received ${clockTime(receivedAt)}` : "received";
  if (state === "refused") return `refused: ${reason || "no reason was given"}`;
  return state === "sending" ? "sending" : "on this device";
}

// What was written, in one line.
export function entryWords(entry) {
  const p = entry.payload;
  const some = (...parts) => parts.filter(Boolean).join(", ");
  switch (entry.kind) {
    case "reading": return some(`spot ${p.spot}: ${p.values.join(" · ")}`, `${p.scale} (${p.instrument})`, p.covering, p.preparation, p.note);
    case "not-read": return `spot ${p.spot}: no reading, ${p.why}`;
    case "scale-shown": return `${p.instrument} showed “${p.shown}” (${p.when})`;
    case "air-reading": return some(`air, ${p.place}: ${p.temperature} °C, ${p.relative_humidity} %`, p.note);
    case "unit-reading": return some(`unit ${p.unit}`, p.hours && `${p.hours} h`, p.collected && `${p.collected} l`, p.energy && `${p.energy} kWh`);
    case "visit": return `visit ${p.id} begun`;
    case "readiness": return `instrument ${p.instrument} looked at`;
    case "gate-answer": return `gate ${p.gate}, ${p.zones.join(", ")}: ${p.result || "no result"}`;
    case "hazard": return some(`hazard, ${p.gate}: ${p.words}`, p.zone);
    case "photo": return some("photo", p.spot && `spot ${p.spot}`, p.zone, p.words);
    case "spot": return `spot ${p.id} in ${p.zone}, ${p.element}`;
    case "scan": return `quick pass in ${p.zone}, ${p.element}: ${p.edge}`;
    case "not-inspected": return p.place ? `not inspected: ${p.place}, ${p.why}` : "everything in scope was reached";
    case "floor-test": return some(`floor test ${p.id}: ${p.method}`, p.zone, p.area && `${p.area} m²`);
    case "floor-place": return some(`place ${p.place} of floor test ${p.test}`, p.depth && `${p.depth} mm deep`, p.words);
    case "floor-reading": return some(`floor test ${p.test}, ${p.place}: ${p.value}`, p.instrument, p.temperature && `${p.temperature} °C`, p.note);
    case "sample": return some(`sample ${p.id} in ${p.zone}, ${p.element}`, p.material, p.place && `place ${p.place}`);
    case "custody": return some(`sample ${p.sample}: ${p.step}`, p.mass && `${p.mass} g`);
    case "weighing": return `sample ${p.sample}, ${p.state}: ${p.mass} g`;
    case "carbide-reading": return some(`carbide test of ${p.sample}: ${p.gauge_pressure} bar`, `${p.sample_mass} g`, `${p.temperature} °C`);
    case "cup-reading": return `air over ${p.sample}: ${p.humidity} %, ${p.temperature} °C`;
    case "salt-content": return some(`salts of ${p.sample}`, p.chloride && `chloride ${p.chloride}`, p.nitrate && `nitrate ${p.nitrate}`, p.sulphate && `sulphate ${p.sulphate}`);
    case "leak-test": return some(`leak test ${p.id}: ${p.test}`, p.system, p.section, p.end ? "ended" : "begun");
    case "cause-observation": return `${p.zone}: ${p.name} (${p.known}), ${p.words}`;
    case "cause-test": return `${p.zone}: ${p.test}, ${p.words}`;
    case "unit": return `unit ${p.id}: ${p.type}`;
    case "unit-change": return some(`unit ${p.unit} ${p.change}`, p.zone, p.position);
    case "not-done": return `not done: ${p.words}, ${p.reason}`;
    case "strike": return `struck: ${p.why}`;
    case "note": return `note: ${p.words}`;
    default: return entry.kind;
  }
}
