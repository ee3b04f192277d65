// The case as this device knows it: what the office gave (the pack) and what was written here since.

const inPack = (pack, entry) => {
  const [device, n] = entry.name.split("/");
  const known = pack.devices?.[device];
  const isLost = (pack.missing?.[device] ?? []).some(([first, last]) => Number(n) >= first && Number(n) <= last);
  return known !== undefined && Number(n) <= Number(known[0]) && !isLost;
};

export function jobOf(pack, entries, device = "") {
  const strikes = entries.filter((entry) => entry.kind === "strike");
  const undone = new Set();
  // A strike may itself be struck: the last word counts, so they are read from the newest to the oldest.
  for (const strike of [...strikes].reverse()) if (!undone.has(strike.hash)) undone.add(strike.payload.target);
  const gone = new Set(pack.gone ?? []); // struck or removed in the office
  const standing = entries.filter((entry) => !undone.has(entry.hash) && !gone.has(entry.hash));
  const struckNames = new Set(entries.filter((entry) => undone.has(entry.hash)).map((entry) => entry.name));
  const of = (kind) => standing.filter((entry) => entry.kind === kind);
  const visits = [...pack.visits];
  for (const { payload } of of("visit")) if (!visits.some((visit) => visit.id === payload.id)) visits.push(payload);
  const order = new Map(visits.map((visit, position) => [visit.id, position]));
  const job = {
    pack, entries, standing, undone, visits, of, strikes, device,
    id: pack.case.id, name: pack.case.name, by: pack.by,
    zones: pack.zones, instruments: pack.instruments,
    isStruck: (entry) => undone.has(entry.hash),
    strikeOf: (entry) => strikes.filter((strike) => strike.payload.target === entry.hash).at(-1),
  };
  job.spots = spotsOf(pack, of, order, struckNames);
  job.spot = (id) => job.spots.find((spot) => spot.id === id);
  job.airPlaces = airPlacesOf(pack, of, order);
  job.units = unitsOf(pack, of);
  // A strike that the pack holds already is weighed there, with what was answered since.
  const fresh = new Set(strikes.filter((strike) => !undone.has(strike.hash) && !inPack(pack, strike)).map((strike) => strike.payload.target));
  const struckHere = entries.filter((entry) => fresh.has(entry.hash) && inPack(pack, entry));
  job.gates = gatesOf(pack, of, struckHere);
  // The gates of an action, in one zone or in all, stops first.
  job.gatesOf = (action, zone) => {
    const given = pack.gates_at?.[action] ?? [];
    const keys = new Set(given.map(({ gate }) => gate));
    return gatesOf({ ...pack, gates: given }, of, struckHere).filter((gate) => keys.has(gate.gate) && (!zone || [zone, SITE].includes(gate.zone)))
      .sort((one, other) => (other.state === "stop") - (one.state === "stop"));
  };
  job.inPack = (entry) => inPack(pack, entry);
  job.zone = pack.case.time_zone;
  job.described = (kind, id) => describedIn(pack, of, kind, id);
  job.nextId = (kind, stem) => nextIdOf(job, kind, stem);
  job.visit = visits.at(-1);
  return job;
}

function spotsOf(pack, of, order, struckNames) {
  const spots = pack.spots.map((spot) => ({ ...spot }));
  for (const entry of of("spot")) {
    const { payload } = entry;
    const known = spots.find((spot) => spot.id === payload.id);
    if (known && inPack(pack, entry)) continue; // the office may have described it again since
    if (known) Object.assign(known, payload);
    else spots.push({ ...payload, status: "", reason: "", last: [] });
  }
  for (const spot of spots) {
    const own = of("reading").filter((entry) => entry.payload.spot === spot.id)
      .map((entry) => ({ ...entry.payload, entry: entry.name, state: entry.state, local: entry }));
    const names = new Set(own.map((reading) => reading.entry));
    const given = spot.last.filter((reading) => !struckNames.has(reading.entry) && !names.has(reading.entry));
    spot.readings = [...own.reverse(), ...given].sort((one, other) => (order.get(other.visit) ?? -1) - (order.get(one.visit) ?? -1));
    spot.notRead = of("not-read").filter((entry) => entry.payload.spot === spot.id);
  }
  return spots;
}

// The newest three visits before this one, each with its newest reading on this scale if there is one, else any.
export function before(spot, visit, scale = "", instrument = "") {
  const found = new Map();
  const fits = (reading) => reading.scale === scale && reading.instrument === instrument;
  for (const reading of spot.readings) {
    if (reading.visit === visit) continue;
    const known = found.get(reading.visit);
    if (!known || (fits(reading) && !fits(known))) found.set(reading.visit, reading);
  }
  return [...found.values()].slice(0, 3);
}

export const inVisit = (spot, visit, scale, instrument) => spot.readings.filter((reading) => reading.visit === visit
  && (!scale || (reading.scale === scale && reading.instrument === instrument)));

// The spots of a sweep in walking order: those with this scale in their history, and those without any history.
export function roundOf(job, sweep) {
  const fits = (spot) => !spot.readings.length
    || spot.readings.some((reading) => reading.scale === sweep.scale && reading.instrument === sweep.instrument);
  const chosen = job.spots.filter(fits);
  return chosen.length ? chosen : job.spots;
}

export function isDone(spot, sweep) {
  return inVisit(spot, sweep.visit, sweep.scale, sweep.instrument).length > 0
    || spot.notRead.some((entry) => entry.payload.visit === sweep.visit && (!sweep.scale || entry.payload.scale === sweep.scale));
}

const KINDS_OF_AIR = ["outside", "affected", "unaffected", "void", "inlet", "outlet"];

function airPlacesOf(pack, of, order) {
  const places = pack.air_places.map((place) => ({ ...place }));
  for (const entry of of("air-reading")) {
    const p = entry.payload;
    let place = places.find((each) => each.place === p.place && each.kind === p.kind);
    if (!place) places.push((place = { place: p.place, kind: p.kind, last: null }));
    if (!place.last || (order.get(p.visit) ?? 0) >= (order.get(place.last.visit) ?? 0)) place.last = { ...p, local: entry };
  }
  return places.sort((one, other) => KINDS_OF_AIR.indexOf(one.kind) - KINDS_OF_AIR.indexOf(other.kind));
}

const DESCRIBED = { "floor-test": "floor_tests", sample: "samples", "leak-test": "leak_tests" };

// A thing as it was described last: here since the pack, else by the office. Described anew, its waiting is worked out
// anew too, in the office.
function describedIn(pack, of, kind, id) {
  const given = (pack[DESCRIBED[kind]] ?? []).find((each) => each.id === id);
  const own = of(kind).filter((entry) => entry.payload.id === id && !inPack(pack, entry)).at(-1)?.payload;
  return given || own ? { ...given, ...own, ...(own && { waits: null }) } : null;
}

// The next free id, and whose device gave it: two devices without a network cannot clash.
function nextIdOf(job, kind, stem) {
  const ids = [...(job.pack[DESCRIBED[kind]] ?? []), ...job.of(kind).map(({ payload }) => payload)].map(({ id }) => id);
  const numbers = ids.map((id) => (id.startsWith(stem) ? parseInt(id.slice(stem.length), 10) || 0 : 0));
  return `${stem}${Math.max(0, ...numbers) + 1}-${job.device.slice(0, 4)}`;
}

const GONE = ["taken away", "collected"]; // after these a unit is no longer here

function unitsOf(pack, of) {
  const units = pack.units.map((unit) => ({ ...unit }));
  for (const entry of of("unit-change")) {
    if (inPack(pack, entry)) continue;
    const { unit: id, type, zone, change, words } = entry.payload;
    const at = units.findIndex((each) => each.unit === id);
    if (GONE.includes(change)) at >= 0 && units.splice(at, 1);
    else if (at >= 0) Object.assign(units[at], { type, zone, words });
    else units.push({ unit: id, type, zone, words, last: null });
  }
  for (const entry of of("unit-reading")) {
    const unit = units.find((each) => each.unit === entry.payload.unit);
    if (!unit) continue; // taken away since
    if (!unit.last || !inPack(pack, entry)) unit.last = { ...entry.payload, local: entry };
  }
  return units;
}

// The state of each gate after what was written here. Evidence is kept, never weighed; a hazard seen later says stop.
// For materials (asbestos, lead paint) evidence speaks of the named material only, so the place stays as it was.
const SITE = "the site"; // as the core names a gate of the whole site
const OF_A_MATERIAL = ["asbestos", "lead paint"];

function gatesOf(pack, of, struckHere) {
  // The pack names several places in one row; what is answered here speaks of one of them, so each has a row of its own.
  const gates = pack.gates.flatMap((gate) => gate.zone.split(", ").map((zone) => ({ ...gate, zone, evidence: [...gate.evidence] })));
  for (const { kind, payload: p } of struckHere) {
    if (kind !== "gate-answer") continue;
    for (const gate of gates) {
      if (gate.gate !== p.gate || (p.zones.length && !p.zones.includes(gate.zone))) continue;
      if (gate.state === "evidence recorded") gate.state = "not answered";
      gate.words = "Evidence was struck on this device.";
    }
  }
  const words = [...of("gate-answer"), ...of("hazard")].filter((entry) => !inPack(pack, entry)).sort((one, other) => one.clock - other.clock);
  for (const { kind, payload: p } of words) {
    const hasSiteRow = gates.some((gate) => gate.gate === p.gate && gate.zone === SITE);
    const isOfTheSite = kind === "gate-answer" && hasSiteRow && pack.zones.every(({ id }) => p.zones.includes(id));
    const zones = isOfTheSite ? [SITE] : kind === "hazard" ? (p.zone ? [p.zone] : [""]) : p.zones;
    for (const zone of zones) {
      let concerned = gates.filter((gate) => gate.gate === p.gate && (!zone || gate.zone === zone));
      if (!concerned.length) {
        const asks = gates.find((gate) => gate.gate === p.gate)?.asks ?? "";
        concerned = [{ gate: p.gate, zone: zone || SITE, state: "not answered", words: "", asks, evidence: [] }];
        gates.push(...concerned);
      }
      for (const gate of concerned) weigh(gate, kind, p);
    }
  }
  return gates;
}

function weigh(gate, kind, p) {
  if (kind === "hazard") {
    gate.state = "stop";
    gate.words = `${p.words} (seen on this device)`;
    return;
  }
  const named = [p.reference, p.by, p.for_what, p.result].every((part) => part.trim());
  const line = `${p.result || "no result stated"}; ${p.reference || "no reference"}; by ${p.by || "nobody named"}, for ${p.for_what || "nothing named"}`;
  gate.evidence.push(p.materials.length ? `${line}; only for ${p.materials.join(", ")}` : line);
  if (p.wish_to_override || !named) gate.words = `${gate.words} An answer without reference, person, purpose and result is kept and answers nothing.`.trim();
  else if (!OF_A_MATERIAL.includes(gate.gate)) gate.state = "evidence recorded";
}

// The id of the next visit: one more than the highest number in use, and whose device began it. Two devices without a
// network would otherwise both begin the same visit.
export function nextVisitId(job) {
  const numbers = job.visits.map((visit) => Number(/^v(\d+)(-[0-9a-f]+)?$/.exec(visit.id)?.[1] ?? 0));
  return `v${Math.max(0, ...numbers) + 1}-${job.device.slice(0, 4)}`;
}

// Has this spot moved by more than 50 mm (a setting of the core)? Then it is another spot.
export function hasMoved(known, again) {
  return ["x", "y", "height", "offset_a", "offset_b"].filter((part) => {
    const one = Number(String(known[part]).replace(",", ".")), other = Number(String(again[part]).replace(",", "."));
    return known[part] !== "" && again[part] !== "" && Math.abs(one - other) > 0.05 + 1e-9;
  });
}
