// Puts each drawing of methods and drying into the page itself, so that it is set in the page's own typeface; its words stay.

for (const image of document.querySelectorAll("img[data-drawn]")) {
  try {
    const answer = await fetch(image.src);
    if (!answer.ok) continue; // the picture with its words stays as it is
    const drawing = new DOMParser().parseFromString(await answer.text(), "image/svg+xml").documentElement;
    if (drawing.localName !== "svg") continue;
    for (const part of drawing.querySelectorAll("[role]")) part.removeAttribute("role");
    for (const part of drawing.querySelectorAll("[aria-roledescription]")) part.removeAttribute("aria-roledescription");
    drawing.setAttribute("role", "img");
    drawing.setAttribute("aria-label", image.alt);
    image.replaceWith(document.importNode(drawing, true));
  } catch {
    // no connection: the picture and the table beneath it stay
  }
}
