// The redacted copy: what would change, hidden areas by two taps or by typed figures, and the zip.

import { callApi, sentence } from "../office.js";

const form = document.getElementById("redaction");
const address = `/api/cases/${form.dataset.case}/redaction`;
const said = document.getElementById("said");
const names = () => document.getElementById("names").value.split("\n").map((line) => line.trim()).filter(Boolean);

function make(name, text, parent) {
  const element = document.createElement(name);
  if (text !== undefined) element.textContent = text;
  parent?.append(element);
  return element;
}

function say(words, isProblem = false, photo = undefined) {
  const line = photo?.querySelector(".said") ?? said;
  line.setAttribute("role", isProblem ? "alert" : "status");
  line.classList.toggle("said-problem", isProblem);
  line.textContent = words;
}

function rows(place, title, heads, lines) {
  if (!lines.length) return;
  const scroll = make("div", undefined, place);
  scroll.className = "scroll";
  scroll.tabIndex = 0;
  scroll.setAttribute("role", "region");
  scroll.setAttribute("aria-label", title);
  const table = make("table", undefined, scroll);
  make("caption", title, table);
  const head = make("tr", undefined, make("thead", undefined, table));
  for (const words of heads) make("th", words, head).scope = "col";
  const body = make("tbody", undefined, table);
  for (const line of lines) {
    const row = make("tr", undefined, body);
    line.forEach((part) => make("td", part, row));
  }
}

async function preview() {
  const place = document.getElementById("changes");
  try {
    const found = await callApi("POST", `${address}/preview`, { names: names() });
    place.replaceChildren();
    make("p", found.said, place);
    const few = (places) => places.slice(0, 3).join(", ") + (places.length > 3 ? ` and ${places.length - 3} more` : "");
    rows(place, "Still with capital letters: look whether one is a name", ["Text in the copy", "Words", "Entry"],
      found.to_look_at.map((each) => [each.text, each.words.join(", "), each.where]));
    rows(place, "Every replacement", ["As it was", "In the copy", "Where"],
      found.replaced.map((each) => [each.was, each.becomes, few(each.places)]));
    place.hidden = false;
    place.focus();
    say("");
  } catch (problem) {
    say(problem.message, true);
  }
}

async function copy() {
  const photos = [...form.querySelectorAll(".looked:checked")].map((box) => box.value);
  say("Making the copy…");
  const answer = await fetch(`${address}/copy`, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify({ names: names(), photos }),
  });
  if (!answer.ok) throw new Error(sentence(await answer.json().catch(() => "")));
  const link = make("a");
  link.href = URL.createObjectURL(await answer.blob());
  link.download = "redacted-copy.zip";
  document.body.append(link);
  link.click();
  link.remove();
  say("The copy was handed over. Look through it before you pass it on.");
}

const corners = new WeakMap(); // picture -> the first corner that was tapped

function tapped(picture, event) {
  const box = picture.querySelector("img").getBoundingClientRect();
  const share = (value, from, size) => Math.min(1, Math.max(0, (value - from) / size));
  const here = [share(event.clientX, box.left, box.width), share(event.clientY, box.top, box.height)];
  const first = corners.get(picture);
  if (!first) {
    corners.set(picture, here);
    say("First corner taken. Tap the opposite corner.", false, picture.closest(".photo"));
    draw(picture, here[0] - 0.005, here[1] - 0.005, 0.01, 0.01);
    return;
  }
  corners.delete(picture);
  const area = {
    left: Math.min(first[0], here[0]), top: Math.min(first[1], here[1]),
    width: Math.abs(first[0] - here[0]), height: Math.abs(first[1] - here[1]),
  };
  const photo = picture.closest(".photo");
  for (const [side, value] of Object.entries(area)) photo.querySelector(`.${side}`).value = (100 * value).toFixed(1);
  draw(picture, area.left, area.top, area.width, area.height);
  say("Both corners taken. Hide the area, or tap again for another.", false, photo);
}

function draw(picture, left, top, width, height) {
  const areas = picture.querySelector(".areas");
  areas.querySelector(".being-drawn")?.remove();
  const rect = document.createElementNS("http://www.w3.org/2000/svg", "rect");
  rect.setAttribute("class", "being-drawn");
  Object.entries({ x: left, y: top, width, height }).forEach(([name, value]) => rect.setAttribute(name, value));
  areas.append(rect);
}

async function hide(photo) {
  const side = (name) => {
    const text = photo.querySelector(`.${name}`).value.trim().replace(",", ".");
    return text === "" || Number.isNaN(Number(text)) ? text : String(Number((Number(text) / 100).toFixed(4)));
  };
  const value = await callApi("POST", `${address}/areas`, {
    sha256: photo.dataset.sha256, left: side("left"), top: side("top"), width: side("width"), height: side("height"),
    words: photo.querySelector(".what").value, by: document.getElementById("by").value,
  });
  const rect = photo.querySelector(".being-drawn") ?? document.createElementNS("http://www.w3.org/2000/svg", "rect");
  rect.removeAttribute("class");
  Object.entries({ x: value.left, y: value.top, width: value.width, height: value.height }).forEach(([name, part]) => rect.setAttribute(name, part));
  photo.querySelector(".areas").append(rect);
  rect.dataset.entry = value.entry;
  const line = make("li", `${value.words || "area"}: left ${value.left}, top ${value.top}, width ${value.width}, height ${value.height} (${value.entry}) `, photo.querySelector(".hidden-areas"));
  const back = make("button", `Show ${value.entry} again`, line);
  back.type = "button";
  back.className = "quiet take-back";
  back.dataset.entry = value.entry;
  say(`Hidden in redacted copies: entry ${value.entry}.`, false, photo);
}

async function takeBack(button) {
  const value = await callApi("POST", `${address}/areas/taken-back`, {
    entry: button.dataset.entry, why: "shown again on the redaction page", by: document.getElementById("by").value,
  });
  say(value.said);
  location.reload();
}

const trying = (work, photo) => work.catch((problem) => say(problem.message, true, photo));

form.addEventListener("submit", (event) => {
  event.preventDefault();
  trying(copy());
});
form.addEventListener("click", (event) => {
  const target = event.target;
  if (target.id === "preview") preview();
  else if (target.closest(".hide-area")) trying(hide(target.closest(".photo")), target.closest(".photo"));
  else if (target.closest(".take-back")) trying(takeBack(target.closest(".take-back")), target.closest(".photo"));
  else if (target.closest(".picture")) tapped(target.closest(".picture"), event);
});
