// Draws the charts on the screen from the specification that the report draws from. Until then, and where a script does
// not run, the drawing of the report stands there as a picture.
import { callApi } from "/static/office.js";

const holder = document.getElementById("charts");

function figures(datum) {
  const parts = [];
  for (const [name, value] of Object.entries(datum ?? {})) {
    if (["string", "number"].includes(typeof value) && !name.startsWith("_") && value !== "") {
      parts.push(`${name.replaceAll("_", " ")} ${typeof value === "number" ? Number(value.toFixed(2)) : value}`);
    }
  }
  return parts.slice(0, 6).join(", ");
}

async function draw(chart) {
  const place = document.querySelector(`[data-chart="${CSS.escape(chart.key)}"]`);
  const drawing = document.createElement("div");
  const made = await window.vegaEmbed(drawing, structuredClone(chart.spec), {
    ast: true, actions: false, defaultStyle: false, renderer: "svg", tooltip: false,
  });
  drawing.querySelector("svg").setAttribute("aria-hidden", "true"); // the sentence below says it as a whole
  drawing.setAttribute("role", "img");
  drawing.setAttribute("aria-label", place.dataset.alt);
  place.replaceChildren(drawing);
  place.dataset.drawn = "yes";
  const said = document.getElementById(`${chart.key}-said`);
  const show = (_, item) => {
    const words = item?.datum && item.mark?.marktype !== "group" ? figures(item.datum) : "";
    if (words) said.textContent = words;
  };
  made.view.addEventListener("pointermove", show);
  made.view.addEventListener("click", show);
}

if (holder && window.vegaEmbed) {
  try {
    await document.fonts.load('11px "Source Sans Pro"').catch(() => []);
    for (const chart of await callApi("GET", `/api/cases/${encodeURIComponent(holder.dataset.case)}/charts`)) await draw(chart);
    holder.dataset.done = "yes";
  } catch (problem) {
    holder.textContent = `The charts stay as pictures: ${problem.message}`;
  }
}
