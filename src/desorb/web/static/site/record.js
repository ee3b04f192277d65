// One entry of the record, sealed on this device exactly as notebook/entry.py seals it.
//
// Canonical form: RFC 8785, restricted to text, whole numbers up to 2^53 - 1, yes/no, lists and objects. No number with
// a decimal mark is ever hashed: a measured value travels as the text that was typed. In JavaScript 1.0 is the same
// value as 1; the difference exists only in JSON text, and no text is read here.
// Hash of an entry = SHA-256(canonical envelope). Payload digest = SHA-256(salt bytes, then canonical payload).

import { Refusal } from "./refusal.js";

export const ALGORITHM = "sha-256";
export const SCHEMA = "desorb/1";
export const SALT_BYTES = 16;
export const DEEPEST = 64; // lists and objects inside one another; a record needs 4
export const LONGEST_ENVELOPE = 1 << 13;
export const LONGEST_PAYLOAD = 1 << 19;
export const FARTHEST_CLOCK = 2 ** 48;

const HALF_CHARACTER = /[\ud800-\udbff](?![\udc00-\udfff])|(?:^|[^\ud800-\udbff])[\udc00-\udfff]/; // no look-behind: older Safari
const ADVICE = "a measured value travels as typed";

export function canonical(value) {
  return written(value, "value", 0);
}

function written(value, where, depth) {
  if (depth > DEEPEST) throw new Refusal("a value is nested too deeply", `at most ${DEEPEST} levels`);
  if (typeof value === "string") return text(value, where);
  if (value === true) return "true";
  if (value === false) return "false";
  if (typeof value === "number") return wholeNumber(value, where);
  if (Array.isArray(value)) {
    const parts = Array.from(value, (part, position) => written(part, `${where}[${position}]`, depth + 1));
    return `[${parts.join(",")}]`;
  }
  if (isPlain(value)) {
    // The plain sort compares UTF-16 code units: the order RFC 8785 asks for.
    const parts = Object.keys(value).sort().map((name) => {
      const label = text(name, where);
      return `${label}:${written(value[name], `${where}.${name}`, depth + 1)}`;
    });
    return `{${parts.join(",")}}`;
  }
  const kind = value === null ? "nothing (null)" : typeof value;
  throw new Refusal(`${where} may not stand in a record`, `it is ${kind}`, ADVICE);
}

function text(value, where) {
  if (HALF_CHARACTER.test(value)) throw new Refusal(`${where} holds half a character`, "", "type it again");
  return JSON.stringify(value);
}

function wholeNumber(value, where) {
  if (!Number.isInteger(value)) throw new Refusal(`${where} may not stand in a record`, `it is the number ${value}`, ADVICE);
  if (!Number.isSafeInteger(value)) throw new Refusal(`${where} is too large a whole number`, "at most 2^53 - 1");
  return value === 0 ? "0" : String(value);
}

function isPlain(value) {
  if (value === null || typeof value !== "object") return false;
  const parent = Object.getPrototypeOf(value);
  return parent === Object.prototype || parent === null;
}

export function hexOf(bytes) {
  return Array.from(new Uint8Array(bytes), (byte) => byte.toString(16).padStart(2, "0")).join("");
}

export function bytesOf(hex) {
  return Uint8Array.from(hex.match(/../g) ?? [], (pair) => parseInt(pair, 16));
}

export function randomHex(bytes) {
  return hexOf(crypto.getRandomValues(new Uint8Array(bytes)));
}

export async function sha256(bytes) {
  return hexOf(await crypto.subtle.digest("SHA-256", bytes));
}

export async function digestOfPayload(salt, payloadText) {
  const head = bytesOf(salt);
  const body = new TextEncoder().encode(payloadText);
  const joined = new Uint8Array(head.length + body.length);
  joined.set(head);
  joined.set(body, head.length);
  return sha256(joined);
}

export async function digestOfEnvelope(envelopeText) {
  return sha256(new TextEncoder().encode(envelopeText));
}

// Make an entry. All of it is text that is kept and sent as it stands: nothing is written anew later.
export async function seal({ caseId, device, n, prev, clock, kind, claimedAt, monotonic, payload, salt = randomHex(SALT_BYTES) }) {
  if (!isPlain(payload)) throw new Refusal("an entry holds an object", "this payload is none");
  const payloadText = canonical(payload);
  if (payloadText.length > LONGEST_PAYLOAD) throw new Refusal("an entry is too long", `at most ${LONGEST_PAYLOAD} characters`, "write it in parts");
  if (clock > FARTHEST_CLOCK) throw new Refusal("the logical clock of this case is beyond any counting", String(clock), "fetch the case again");
  const envelope = canonical({
    case: caseId, device, n, prev, clock, kind, schema: SCHEMA, claimed_at: claimedAt, monotonic, algorithm: ALGORITHM,
    payload_digest: await digestOfPayload(salt, payloadText),
  });
  if (envelope.length > LONGEST_ENVELOPE) throw new Refusal("the envelope of an entry is too long", `at most ${LONGEST_ENVELOPE} characters`);
  return {
    case: caseId, device, n, prev, clock, kind, claimed_at: claimedAt, hash: await digestOfEnvelope(envelope), envelope,
    salt, payload_text: payloadText,
  };
}
