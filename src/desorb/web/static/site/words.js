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

export const isToday = (iso) => new Date(iso).toDateString() === new Date().toDateString();

export function age(iso) {
  const minutes = (Date.now() - new Date(iso).getTime()) / 60000;
  if (!(minutes >= 0)) return "";
  if (minutes < 60) return count(Math.floor(minutes), "minute");
  return minutes < 48 * 60 ? count(Math.floor(minutes / 60), "hour") : count(Math.floor(minutes / 1440), "day");
}

export const hoursSince = (iso) => (iso ? (Date.now() - new Date(iso).getTime()) / 3600000 : 0);

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
    case "strike": return `struck: ${p.why}`;
    case "note": return `note: ${p.words}`;
    default: return entry.kind;
  }
}
