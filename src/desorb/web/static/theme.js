// Light, dark, or as the device says. The choice is kept on this device and works without a network.
"use strict";
(() => {
  const root = document.documentElement;
  const order = ["device", "light", "dark"];
  const words = { device: "Theme: as the device", light: "Theme: light", dark: "Theme: dark" };
  const read = () => {
    try {
      return order.includes(localStorage.getItem("theme")) ? localStorage.getItem("theme") : "device";
    } catch {
      return "device";
    }
  };
  const show = (theme) => {
    if (theme === "device") root.removeAttribute("data-theme");
    else root.setAttribute("data-theme", theme);
    for (const button of document.querySelectorAll("#theme, [data-theme-switch]")) button.textContent = words[theme];
  };
  show(read());
  document.addEventListener("DOMContentLoaded", () => show(read()));
  document.addEventListener("click", (event) => {
    if (!event.target.closest("#theme, [data-theme-switch]")) return;
    const next = order[(order.indexOf(read()) + 1) % order.length];
    try {
      localStorage.setItem("theme", next);
    } catch {
      // A device that keeps nothing still shows the theme that was chosen.
    }
    show(next);
  });
})();
