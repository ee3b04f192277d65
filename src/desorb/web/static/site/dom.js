// Elements without a template engine: h("button.next", {type: "button", onclick}, "words", child).
// Text is always set as text, never as markup.

const SVG = "http://www.w3.org/2000/svg";

export function h(what, attributes = {}, ...children) {
  const [tag, ...classes] = what.split(".");
  const element = document.createElement(tag || "div");
  if (classes.length) element.className = classes.join(" ");
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (name in element && !name.startsWith("aria") && typeof value !== "string") element[name] = value;
    else element.setAttribute(name, value === true ? "" : value);
  }
  append(element, children);
  return element;
}

export function append(element, children) {
  for (const child of children.flat(Infinity)) {
    if (child === undefined || child === null || child === false || child === "") continue;
    element.append(child instanceof Node ? child : document.createTextNode(String(child)));
  }
  return element;
}

export function fill(element, ...children) {
  element.replaceChildren();
  return append(element, children);
}

const PATHS = {
  here: "M3 3H13V13H3Z", // an open square: it lies here
  sending: "M8 14V3M4 7L8 3L12 7", // an arrow up
  received: "M2 8L6 12L14 4", // a tick
  refused: "M3 3L13 13M13 3L3 13M1 1H15V15H1Z", // a cross in a frame
  "not read": "M8 6A2 2 0 1 0 8.01 6Z", // a small dot
  "above control": "M3 3H13V13H3Z",
  "no higher than control": "M8 3A5 5 0 1 0 8.01 3Z",
  "cannot say": "M8 3A5 5 0 1 0 8.01 3Z",
  struck: "M3 3L13 13M13 3L3 13",
  clipped: "M1 15H15",
  awaited: "M8 2A6 6 0 1 0 8.01 2ZM8 5V8L10 10", // a clock
};

export function icon(name, extra = "") {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", "0 0 16 16");
  svg.setAttribute("class", `icon icon-${name.replaceAll(" ", "-")}`);
  svg.setAttribute("aria-hidden", "true");
  svg.setAttribute("focusable", "false");
  for (const each of [name, extra]) {
    if (!PATHS[each]) continue;
    const path = document.createElementNS(SVG, "path");
    path.setAttribute("d", PATHS[each]);
    svg.append(path);
  }
  return svg;
}

// A choice of one: radio buttons that look like keys. `on` is called with the chosen value.
let groups = 0;
export function choice(legend, options, chosen, on) {
  const name = `choice-${(groups += 1)}`;
  return h("fieldset.choice", {}, h("legend", {}, legend), h(".chips", {}, options.map((option) => {
    const [value, words] = Array.isArray(option) ? option : [option, option];
    const input = h("input", { type: "radio", name, value, checked: value === chosen, onchange: () => on(value) });
    return h("label.chip", {}, input, h("span", {}, words));
  })));
}

// A labelled text field. `on` is called at every keystroke.
let fields = 0;
export function field(label, value, on, { hint = "", area = false, ...attributes } = {}) {
  const id = `field-${(fields += 1)}`;
  const input = h(area ? "textarea" : "input", {
    id, autocomplete: "off", oninput: () => on(input.value), "aria-describedby": hint ? `${id}-hint` : undefined,
    ...(area ? { rows: "3" } : { type: "text" }), ...attributes,
  });
  input.value = value ?? "";
  const parts = [h("label", { for: id }, label), hint && h("p.hint", { id: `${id}-hint` }, hint), input];
  const box = append(h(".field"), parts);
  box.input = input;
  return box;
}

export function selection(label, options, chosen, on, hint = "") {
  const id = `field-${(fields += 1)}`;
  const select = h("select", { id, onchange: () => on(select.value) }, options.map((option) => {
    const [value, words] = Array.isArray(option) ? option : [option, option];
    return h("option", { value, selected: value === chosen }, words);
  }));
  return append(h(".field"), [h("label", { for: id }, label), hint && h("p.hint", {}, hint), select]);
}

// A second tap while the first is still at work does nothing: a slow write must not be made twice.
function oneAtATime(on) {
  let busy = false;
  return async (event) => {
    if (busy) return;
    busy = true;
    try {
      await on(event);
    } finally {
      busy = false;
    }
  };
}

export const button = (words, on, kind = "") => h(`button${kind && `.${kind}`}`, { type: "button", onclick: oneAtATime(on) }, words);
