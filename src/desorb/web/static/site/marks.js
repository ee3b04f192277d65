// The state of each entry and photo: word and icon, kept up to date wherever they stand on the page.

import { fill, h, icon } from "./dom.js";
import { stateWords } from "./words.js";

export function stateMark(entry) {
  const mark = h("span.state", { "data-entry": entry.hash, "data-case": entry.case ?? "" });
  return show(mark, entry.state, entry.received_at, entry.reason);
}

export function photoMark(sha256, photo) {
  const mark = h("span.state", { "data-photo": sha256 });
  return show(mark, photo?.state ?? "here", photo?.received_at, photo?.reason);
}

function show(mark, state, receivedAt, reason) {
  const words = stateWords(state, receivedAt, reason);
  if (mark.dataset.words === words) return mark;
  mark.dataset.words = words;
  mark.dataset.state = state;
  return fill(mark, icon(state), h("span", {}, words));
}

export async function refreshMarks(root, store, caseId) {
  if (!caseId || !root.querySelector("[data-entry], [data-photo]")) return;
  const entries = new Map((await store.entries(caseId)).map((entry) => [entry.hash, entry]));
  for (const mark of root.querySelectorAll("[data-entry]")) {
    const entry = entries.get(mark.dataset.entry);
    if (entry) show(mark, entry.state, entry.received_at, entry.reason);
  }
  const photos = new Map((await store.photos(caseId)).map((photo) => [photo.sha256, photo]));
  for (const mark of root.querySelectorAll("[data-photo]")) {
    const photo = photos.get(mark.dataset.photo);
    if (photo) show(mark, photo.state, photo.received_at, photo.reason);
  }
}
