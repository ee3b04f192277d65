// The record page: verification in words, and the slider that stands beside the list of days.
import { details, inWords, verify } from "/static/office/verify.js";

const form = document.getElementById("verify");
const place = document.getElementById("verified");
form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const button = form.querySelector("button");
  button.disabled = true;
  place.textContent = "Reading every entry, every receipt and every original of this case. This can take a while.";
  try {
    const heads = document.getElementById("heads").value.split("\n").map((line) => line.trim()).filter(Boolean);
    const found = await verify(form.dataset.case, heads);
    const words = document.createElement("p");
    const text = inWords(found);
    words.textContent = `${text[0].toUpperCase()}${text.slice(1)}. It does not prove that a reading is true, nor that a device's clock was right.`;
    place.replaceChildren(words, details(found));
  } catch (problem) {
    place.textContent = problem.message;
  } finally {
    button.disabled = false;
  }
});

const range = document.getElementById("day-range");
const list = document.getElementById("on");
const words = document.getElementById("day-words");
function show(number) {
  const option = list.options[number];
  words.textContent = option.textContent;
  range.setAttribute("aria-valuetext", option.textContent);
}
if (range && list) {
  range.addEventListener("input", () => {
    list.selectedIndex = Number(range.value);
    show(Number(range.value));
  });
  list.addEventListener("change", () => {
    range.value = String(list.selectedIndex);
    show(list.selectedIndex);
  });
  show(list.selectedIndex);
}
