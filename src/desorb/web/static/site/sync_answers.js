// One request to the office, and what its answer means. An answer counts only when it has the form of ours: a page of
// another network that answers 200 with HTML is no success, and neither is silence.
//
// ask() gives {is: "answer", value} or {is, words} with is one of:
//   no contact   nothing came, or not from desorb: try again later, everything
//   busy         the office says it cannot now (429, 503, 507): try again later, everything
//   shut out     this device is not let in (401, 403): entries stay here until it is
//   trouble      500: perhaps one entry, perhaps the office: send in smaller parts to find out
//   not taken    400, 413, 415, 422: what was sent cannot be used: send in smaller parts, set that one aside
//   no case      404: the office does not know this case
//   not now      409 and the rest: this case waits, others go on

const OF_STATUS = new Map([
  [401, "shut out"], [403, "shut out"], [404, "no case"], [400, "not taken"], [413, "not taken"], [415, "not taken"],
  [422, "not taken"], [408, "busy"], [425, "busy"], [429, "busy"], [503, "busy"], [507, "busy"], [502, "no contact"],
  [504, "no contact"], [500, "trouble"],
]);
const NO_CONTACT = "No contact with the office. Everything stays on this phone and is sent later.";
const NOT_OURS = "What answered is not the office: perhaps a sign-in page of this network. Everything stays on this phone.";
const SILENT = "The office did not answer in time. Everything stays on this phone and is sent again.";

export async function ask(tools, address, options, seconds) {
  const control = new AbortController();
  let isLate = false;
  const timer = tools.setTimer(() => {
    isLate = true;
    control.abort();
  }, seconds * 1000);
  tools.stoppable.add(control);
  try {
    const answer = await tools.fetch(address, { ...options, signal: control.signal, cache: "no-store", credentials: "same-origin", redirect: "error" });
    return await read(answer);
  } catch {
    return { is: "no contact", words: isLate ? SILENT : NO_CONTACT };
  } finally {
    endTimer(timer);
    tools.stoppable.delete(control);
  }
}

export function endTimer(timer) {
  if (timer?.stop) timer.stop();
  else clearTimeout(timer);
}

async function read(answer) {
  const isJson = /^application\/json\b/i.test(answer.headers.get("content-type") ?? "");
  let value;
  try {
    value = isJson ? await answer.json() : undefined;
  } catch {
    return { is: "no contact", words: NOT_OURS };
  }
  if (answer.ok) return value === undefined ? { is: "no contact", words: NOT_OURS } : { is: "answer", value };
  // Only desorb refuses in this form. Another machine's refusal must not set an entry aside.
  const isOurs = typeof value?.what === "string" && typeof value?.error === "string";
  if (!isOurs && answer.status !== 500) return { is: "no contact", words: answer.status >= 500 ? NO_CONTACT : NOT_OURS };
  const words = isOurs ? sentence(value) : `The office answered ${answer.status}.`;
  return { is: OF_STATUS.get(answer.status) ?? (answer.status >= 500 ? "no contact" : "not now"), words };
}

function sentence({ what, got, wanted, next }) {
  const parts = [what, got && `got ${got}`, wanted && `wanted ${wanted}`].filter(Boolean).join("; ");
  return `${parts}.${next ? ` Next: ${next}.` : ""}`;
}

const STATES = ["received", "known", "refused"];

// The results that speak of what was sent, or nothing when the answer has another form.
export function resultsOf(value, hashes) {
  if (!Array.isArray(value?.results) || !Number.isSafeInteger(value.highest_clock)) return null;
  const sent = new Set(hashes);
  const results = value.results.filter((result) => sent.has(result?.hash) && STATES.includes(result?.state));
  return results.length ? results : null;
}

export function isPhotoTaken(value, sha256) {
  return value?.sha256 === sha256 && ["received", "known"].includes(value?.state);
}

export { NOT_OURS };
