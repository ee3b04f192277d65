document.addEventListener("click", (event) => {
  if (event.target.closest("button[data-print]")) window.print();
});
