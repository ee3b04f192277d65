// A number as a person typed it: read without guessing, kept without changing. The same rules as core/typed.py,
// against which a test compares this file.

const SPACE = "[\\t-\\r\\x1c-\\x20\\x85\\xa0\\u1680\\u2000-\\u200a\\u2028\\u2029\\u202f\\u205f\\u3000]";
const ENDS = new RegExp(`^${SPACE}+|${SPACE}+$`, "gu");
const MARK = new RegExp(`^(>=|<=|[><\\u2265\\u2264]?)${SPACE}*`, "u");
const NUMBER = /^([+\-\u2212]?)([0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)$/u;
const BOUNDS = { "": "", ">": ">=", ">=": ">=", "\u2265": ">=", "<": "<=", "<=": "<=", "\u2264": "<=" };
const LONGEST = 24;

export const WANTED = "digits with at most one decimal mark, such as 54, 12.5 or 12,5; >=5.8 for a display at its end";
export const NEXT = "type the figure as the instrument showed it, without unit and without thousands marks";

// -> {text, number, bound} or {problem}. `number` is a decimal text with a point; `text` is what was typed.
export function readValue(typed) {
  const text = typed.replace(ENDS, "");
  const mark = MARK.exec(text);
  const found = NUMBER.exec(text.slice(mark[0].length));
  if (!found || [...text].length > LONGEST) {
    return { problem: `This is not one number. Got “${typed}”; wanted ${WANTED}. Next: ${NEXT}.` };
  }
  const sign = found[1] === "-" || found[1] === "\u2212" ? "-" : "";
  return { text, number: sign + found[2].replace(",", "."), bound: BOUNDS[mark[1]] };
}

// The mark between whole and part in this browser's language.
export function separator(language = navigator.language) {
  try {
    return new Intl.NumberFormat(language).formatToParts(1.5).find((part) => part.type === "decimal").value === "," ? "," : ".";
  } catch {
    return ".";
  }
}

export const asNumber = (text) => {
  const read = readValue(text ?? "");
  return read.problem ? NaN : Number(read.number);
};

// What looks odd about a value: words to show beside it and to keep with it, or "". It never blocks.
// `step` (how many times the last value asks) is a setting of the case.
export function oddity(read, scale, last, step) {
  const value = Number(read.number);
  const bottom = asNumber(scale?.bottom), top = asNumber(scale?.top);
  if (!read.bound && value > top) return `${read.text} is above the top of this scale, ${scale.top}. Look again.`;
  if (!read.bound && value < bottom) return `${read.text} is below the bottom of this scale, ${scale.bottom}. Look again.`;
  const before = asNumber(last?.values?.at(-1)), times = asNumber(step);
  if (value > 0 && before > 0 && times > 1 && Math.max(value / before, before / value) > times) {
    return `${read.text} is more than ${step} times away from ${last.values.at(-1)} of ${last.visit}. Look again.`;
  }
  return "";
}
