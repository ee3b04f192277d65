// Verifies the whole store, case by case, and says how far it is.
import { callApi } from "/static/office.js";
import { details, inWords, verify } from "/static/office/verify.js";

const button = document.getElementById("verify-all");
const progress = document.getElementById("progress");
button.addEventListener("click", async () => {
  button.disabled = true;
  const lines = [...document.querySelectorAll("#cases li[data-case]")];
  let faulty = 0;
  try {
    progress.textContent = "Checking the file of the store.";
    const file = await callApi("GET", "/api/verification");
    document.getElementById("file").textContent = [file.said, ...file.faults].join(" ");
    for (const [number, line] of lines.entries()) {
      progress.textContent = `Verifying case ${number + 1} of ${lines.length}.`;
      const outcome = line.querySelector(".outcome");
      try {
        const found = await verify(line.dataset.case);
        outcome.textContent = inWords(found);
        line.querySelector("ul")?.remove();
        if (found.faults.length) faulty += 1;
        line.append(details(found));
      } catch (problem) {
        faulty += 1;
        outcome.textContent = problem.message;
      }
    }
    const store = file.ok ? "the file holds together" : "the file is damaged";
    const cases = faulty ? `${faulty} of ${lines.length} cases do not verify` : `${lines.length} of ${lines.length} cases verify`;
    progress.textContent = `Done: ${store}; ${cases}.`;
  } catch (problem) {
    progress.textContent = problem.message;
  } finally {
    button.disabled = false;
  }
});
