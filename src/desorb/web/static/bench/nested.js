// Forms whose fields are named as "scales.0.key": sent as one nested object. Parts can be added and left out.
//   data-nested="POST /api/..."   where it goes; data-then="/path/{name}" where to go afterwards
//   data-parts="scales"           holds the parts; button data-add="scales" adds one from the template data-of="scales"

import { callApi } from "../office.js";

function put(target, path, value) {
  const steps = path.split(".");
  let place = target;
  steps.forEach((step, at) => {
    if (at === steps.length - 1) place[step] = value;
    else place = place[step] ??= /^\d+$/.test(steps[at + 1]) ? [] : {};
  });
}

function valueOf(field) {
  if (field.type === "checkbox") return field.checked;
  if ("list" in field.dataset) return field.value.split("\n").map((line) => line.trim()).filter(Boolean);
  if ("number" in field.dataset) return Number(field.value);
  return field.value;
}

export function nestedOf(form) {
  const value = {};
  for (const field of form.elements) if (field.name && !field.disabled) put(value, field.name, valueOf(field));
  for (const [name, part] of Object.entries(value)) if (Array.isArray(part)) value[name] = part.filter(() => true);
  return value;
}

function say(form, words, isProblem) {
  let line = form.querySelector(":scope > .said");
  if (!line) {
    line = document.createElement("p");
    line.className = "said";
    form.append(line);
  }
  line.setAttribute("role", isProblem ? "alert" : "status");
  line.classList.toggle("said-problem", isProblem);
  line.textContent = words;
}

document.addEventListener("submit", async (event) => {
  const form = event.target.closest("form[data-nested]");
  if (!form) return;
  event.preventDefault();
  const [method, address] = form.dataset.nested.split(" ");
  const buttons = [...form.querySelectorAll("button")];
  for (const button of buttons) button.disabled = true;
  try {
    const answer = await callApi(method, address, nestedOf(form));
    say(form, answer.said ?? "Written down.", false);
    location.assign(form.dataset.then.replace(/\{(\w+)\}/g, (_, name) => encodeURIComponent(answer[name] ?? "")));
  } catch (problem) {
    say(form, problem.message, true);
  } finally {
    for (const button of buttons) button.disabled = false;
  }
});

let added = 1000; // numbers of parts only keep them apart; holes are closed before sending

document.addEventListener("click", (event) => {
  const add = event.target.closest("button[data-add]");
  if (add) {
    const name = add.dataset.add;
    const part = document.querySelector(`template[data-of="${name}"]`).content.cloneNode(true);
    const number = String(added++);
    for (const element of part.querySelectorAll("*")) {
      for (const attribute of ["id", "for", "name", "aria-describedby"]) {
        const text = element.getAttribute(attribute);
        if (text) element.setAttribute(attribute, text.replace(/N(?=-)|(?<=\.)N(?=\.)/, number));
      }
    }
    const parts = document.querySelector(`[data-parts="${name}"]`);
    parts.append(part);
    parts.lastElementChild.querySelector("input").focus();
  }
  const drop = event.target.closest("button[data-drop]");
  if (drop) {
    const parts = drop.closest("[data-parts]");
    drop.closest("[data-part]").remove();
    document.querySelector(`[data-add="${parts.dataset.parts}"]`).focus();
  }
});
