// What became of a file, in full: each bad row with the cell, what was got and what is wanted.

const place = document.getElementById("outcome");

function make(name, text, parent) {
  const element = document.createElement(name);
  if (text !== undefined) element.textContent = text;
  parent?.append(element);
  return element;
}

function list(title, items) {
  if (!items.length) return;
  make("h3", title, place);
  const lines = make("ul", undefined, place);
  for (const item of items) make("li", item, lines);
}

function table(problems) {
  if (!problems.length) return;
  make("h3", "Rows that were not taken", place);
  const scroll = make("div", undefined, place);
  scroll.className = "scroll";
  scroll.tabIndex = 0;
  scroll.setAttribute("role", "region");
  scroll.setAttribute("aria-label", "Rows that were not taken");
  const rows = make("table", undefined, scroll);
  const head = make("tr", undefined, make("thead", undefined, rows));
  for (const words of ["Row", "Column", "Got", "Wanted"]) make("th", words, head).scope = "col";
  const body = make("tbody", undefined, rows);
  for (const problem of problems) {
    const row = make("tr", undefined, body);
    make("th", String(problem.row), row).scope = "row";
    for (const part of [problem.column, problem.got, problem.wanted]) make("td", part, row);
  }
}

document.addEventListener("desorb:done", (event) => {
  if (event.detail.element.id !== "take") return;
  const file = event.detail.value;
  place.replaceChildren();
  make("h2", "What became of it", place);
  make("p", file.said, place);
  table(file.problems);
  list("Changed rows: say why they are corrections, and take the file again", file.corrections);
  list("What was assumed", file.assumed);
  list("Described on the way", file.described);
  place.hidden = false;
  place.focus();
});
