// From when a place may be read, by the list that the office works by: [{part, hours, if_missing}], the latest counts.

// -> {from, missing} or null where nothing waits or the time of the place is missing.
export function mayBeReadFrom(waits, place) {
  if (!waits?.length || !place.at) return null;
  const ends = waits.filter(({ part }) => place[part]).map(({ part, hours }) => Date.parse(place[part]) + hours * 3600000);
  return { from: new Date(Math.max(...ends)).toISOString(), missing: waits.filter((wait) => wait.if_missing && !place[wait.part]).map((wait) => wait.if_missing) };
}
