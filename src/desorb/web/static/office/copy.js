// Copies the text of a field; where the browser does not allow it, the text is selected for the person to copy.
document.addEventListener("click", async (event) => {
  const button = event.target.closest("button[data-copy]");
  if (!button) return;
  const field = document.getElementById(button.dataset.copy);
  const said = document.getElementById("copied");
  try {
    await navigator.clipboard.writeText(field.value);
    said.textContent = "Copied.";
  } catch {
    field.focus();
    field.select();
    said.textContent = "The text is selected: copy it with the keyboard or the menu.";
  }
});
