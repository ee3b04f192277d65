// Photos: the bytes as the camera gave them. Place, direction and words come from here, never from inside the file.

import { button, field, h, selection } from "../dom.js";
import { photoMark } from "../marks.js";
import { clockTime, moment } from "../words.js";

const KEY = "photo";

export async function photosScreen(here, job) {
  const kept = here.drafts.values(job.id, KEY);
  const values = kept ?? { spot: here.params.get("spot") ?? "", zone: "", direction: "", words: "" };
  const place = () => (values.spot ? `photo at spot ${values.spot}` : values.zone ? `photo in ${values.zone}` : "photo");
  const route = `/c/${job.id}/photos`;
  const note = (extra) => here.drafts.set(job.id, KEY, place(), route, values, extra);
  const keep = (name) => (value) => {
    values[name] = value;
    return note();
  };
  const taking = chooser("Take a photo", { capture: "environment" }), choosing = chooser("Choose a file", {});

  function chooser(words, attributes) {
    const input = h("input", { type: "file", accept: "image/*", tabindex: "-1", "aria-hidden": "true", ...attributes });
    input.hidden = true;
    const press = button(words, async () => {
      await note({ chooser: true }); // if the system ends the page while the camera is open, the way back is known
      input.click();
    }, attributes.capture ? "next" : "");
    input.addEventListener("cancel", () => (Object.values(values).some(Boolean) ? note() : here.drafts.clear(job.id, KEY)));
    input.addEventListener("change", () => input.files[0] && receive(input.files[0]).catch(here.trouble));
    return h("span", {}, press, input);
  }

  let busy = false;
  async function receive(file) {
    if (busy) return here.announce("The photo before is still being kept. Next: take this one again.");
    busy = true;
    try {
      return await keepIt(file);
    } finally {
      busy = false;
    }
  }

  async function keepIt(file) {
    const { sha256, size, media_type } = await here.store.keepPhoto(job.id, file);
    const { spot, direction } = values;
    await here.write(job, "photo", {
      sha256, media_type, size, words: values.words.trim(), taken_at: moment(), spot, zone: values.zone || (job.spot(spot)?.zone ?? ""), direction: direction.trim(),
      visit: job.visit?.id ?? "", by: here.who(job),
    });
    await here.drafts.clear(job.id, KEY);
    await here.again();
  }

  const urls = [];
  const photos = new Map((await here.store.photos(job.id)).map((photo) => [photo.sha256, photo]));
  const taken = job.of("photo").reverse();
  const shown = await Promise.all(taken.map(async ({ payload: p, hash }) => {
    const blob = await here.store.photo(p.sha256);
    if (blob) urls.push(URL.createObjectURL(blob));
    return h("li", { "data-hash": hash },
      blob ? h("img", { src: urls.at(-1), alt: p.words || `Photo ${p.spot || p.zone}`, loading: "lazy" }) : h("p", {}, "The picture is with the office."),
      h("p", {}, [p.spot && `spot ${p.spot}`, p.zone, p.direction, p.words].filter(Boolean).join(", "), ` ${clockTime(p.taken_at)} `, photoMark(p.sha256, photos.get(p.sha256))),
      h("p.hash", {}, p.sha256));
  }));
  const body = h(".stack", {},
    h("section.form", {},
      selection("Spot", [["", "no spot"], ...job.spots.map((spot) => [spot.id, `${spot.id}: ${spot.words || spot.zone}`])], values.spot, keep("spot")),
      selection("Zone", [["", "no zone"], ...job.zones.map(({ id, words }) => [id, `${id}: ${words}`])], values.zone, keep("zone")),
      field("Direction", values.direction, keep("direction"), { hint: "towards which wall or corner" }),
      field("What it shows", values.words, keep("words"))),
    h("ul.photos", {}, shown),
    awaited(job),
    h(".next-place", {}, choosing, taking));
  return { title: "Photos", back: `/c/${job.id}`, body, leave: () => urls.forEach((url) => URL.revokeObjectURL(url)) };
}

function awaited(job) {
  const missing = job.pack.photos_awaited.length;
  return missing > 0 && h("p.hint", {}, `The office still waits for the bytes of ${missing === 1 ? "1 photo" : `${missing} photos`} of this case.`);
}
