// Forms of the office: a form with data-api="POST /api/..." is sent as JSON to the API that everyone else uses too.
//   name="x"            text;   data-list: one item a line;   data-number: a whole number;   checkbox: yes/no
//   data-then="/path"   where to go when it was done; without it the page is read again
//   input type=file data-raw: the file itself is the body, its name goes as ?name=
// A button with data-api does the same without a form.

export async function callApi(method, address, body, type = "application/json") {
  const answer = await fetch(address, {
    method,
    headers: body === undefined ? {} : { "content-type": type },
    body: body === undefined ? undefined : type === "application/json" ? JSON.stringify(body) : body,
  });
  const isJson = (answer.headers.get("content-type") ?? "").includes("json");
  const value = isJson ? await answer.json() : await answer.text();
  if (!answer.ok) throw Object.assign(new Error(sentence(value)), { problem: value, status: answer.status });
  return value;
}

export function sentence(problem) {
  if (typeof problem === "string" || !problem?.what) return "The server gave no answer that can be used.";
  const parts = [problem.what];
  if (problem.got) parts.push(`got ${problem.got}`);
  if (problem.wanted) parts.push(`wanted ${problem.wanted}`);
  return `${parts.join("; ")}.${problem.next ? ` Next: ${problem.next}.` : ""}`;
}

export function valuesOf(form) {
  const values = {};
  for (const field of form.elements) {
    if (!field.name || field.disabled || field.type === "file") continue;
    if (field.type === "radio" && !field.checked) continue;
    if (field.type === "checkbox" && !("many" in field.dataset)) values[field.name] = field.checked;
    else if (field.type === "checkbox") values[field.name] = [...(values[field.name] ?? []), ...(field.checked ? [field.value] : [])];
    else if ("list" in field.dataset) values[field.name] = field.value.split("\n").map((line) => line.trim()).filter(Boolean);
    else if ("number" in field.dataset) values[field.name] = Number(field.value);
    else values[field.name] = field.value;
  }
  return values;
}

function saySo(place, words, isProblem) {
  let line = place.querySelector(":scope > .said, :scope .said");
  if (!line) {
    line = document.createElement("p");
    line.className = "said";
    place.append(line);
  }
  line.setAttribute("role", isProblem ? "alert" : "status");
  line.classList.toggle("said-problem", isProblem);
  line.textContent = words;
}

async function send(element, form) {
  const [method, address] = element.dataset.api.split(" ");
  const place = form ?? element.parentElement;
  const buttons = form ? [...form.querySelectorAll("button")] : [element];
  for (const button of buttons) button.disabled = true;
  let leaves = false;
  try {
    let value;
    const file = form?.querySelector("input[type=file][data-raw]");
    if (file) {
      const chosen = file.files[0];
      if (!chosen) throw new Error("No file was chosen. Next: choose one.");
      const extra = new URLSearchParams({ ...valuesOf(form), name: chosen.name });
      value = await callApi(method, `${address}?${extra}`, chosen, "application/octet-stream");
    } else {
      value = await callApi(method, address, form ? valuesOf(form) : {});
    }
    saySo(place, value?.said ?? "Written down.", false);
    document.dispatchEvent(new CustomEvent("desorb:done", { detail: { element, value } }));
    if (element.dataset.then !== "stay") {
      const target = (element.dataset.then ?? location.href).replace(/\{(\w+)\}/g, (_, name) => encodeURIComponent(value?.[name] ?? ""));
      leaves = true; // the buttons stay as they are until the next page is there
      location.assign(target);
    }
  } catch (problem) {
    saySo(place, problem.message, true);
  } finally {
    for (const button of buttons) button.disabled = leaves;
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target.closest("form[data-api]");
  if (!form) return;
  event.preventDefault();
  send(form, form);
});

document.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-api]");
  if (button) send(button, null);
});
