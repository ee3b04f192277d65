// The list beside the plan: the same spots with the same values, as a table. One tab stop; arrows go up and down in it.

import { LEGEND, drawMark, make, svg } from "./marks.js";

export function legend() {
  const list = make("ul", { class: "plan-legend", "aria-label": "Marks of the plan" });
  for (const [shape, side, words] of LEGEND) {
    list.append(make("li", {}, svg("svg", { viewBox: "-12 -13 24 26", width: 24, height: 26, "aria-hidden": "true", focusable: "false" }, drawMark(shape, side)), words));
  }
  return list;
}

export function listOf(plan, open) {
  const rows = plan.spots.map((each) => {
    const button = make("button", { type: "button", class: "plan-open", tabindex: "-1", "data-spot": each.id, onclick: () => open(each.id) }, each.id);
    const cells = [each.place, each.value, each.words, each.time || "none"].map((words, column) => make("td", { class: column === 3 ? "plan-time" : "" }, words));
    return make("tr", {}, make("th", { scope: "row" }, button), ...cells);
  });
  const heads = ["Spot", "Place", "Value", "Class", "Read at"].map((words) => make("th", { scope: "col" }, words));
  const body = make("tbody", {}, ...rows);
  const caption = make("caption", { class: "plan-after" }, `The same ${rows.length} spots as a list, in walking order`);
  const table = make("table", {}, caption, make("thead", {}, make("tr", {}, ...heads)), body);
  plan.twin.replaceChildren(make("div", { class: "scroll" }, table));
  const buttons = rows.map((row) => row.querySelector("button"));
  const stop = roving(body, buttons, ["ArrowUp", "ArrowDown"]);
  return {
    mark(current) {
      for (const [index, row] of rows.entries()) {
        const here = buttons[index].dataset.spot === current;
        row.classList.toggle("plan-here-row", here);
        if (here) buttons[index].setAttribute("aria-current", "true");
        else buttons[index].removeAttribute("aria-current");
        if (here) stop(buttons[index]);
      }
    },
  };
}

// One tab stop for many buttons: the two keys go back and forth between them, Home and End to the ends.
export function roving(group, buttons, [back, forth]) {
  const stop = (button) => {
    for (const each of buttons) each.tabIndex = each === button ? 0 : -1;
  };
  stop(buttons[0]);
  group.addEventListener("focusin", (event) => buttons.includes(event.target) && stop(event.target));
  group.addEventListener("keydown", (event) => {
    const at = buttons.indexOf(event.target);
    const to = { [forth]: at + 1, [back]: at - 1, Home: 0, End: buttons.length - 1 }[event.key];
    if (to === undefined || at < 0) return;
    event.preventDefault();
    buttons[Math.min(Math.max(to, 0), buttons.length - 1)].focus();
  });
  return stop;
}
