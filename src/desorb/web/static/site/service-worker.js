// Keeps the page for the site on this device, so that it opens without any network.
//
// The server puts one line before this file: self.SITE = {version, digests}, the address and SHA-256 of every file. A
// version is kept whole or not at all: a file whose bytes are others (a newer server, a sign-in page of a network) ends
// the installation, and the browser tries again later. A new version waits until the page asks it to take over; nothing
// is ever reloaded by force. What stands under /api/ is never kept here, and never answered from here.

const { version: VERSION, digests: DIGESTS } = self.SITE;
const PREFIX = "desorb-site-";
const CACHE = `${PREFIX}${VERSION}`;
const SHELL = "/site/";

self.addEventListener("install", (event) => event.waitUntil(keepAll()));
self.addEventListener("activate", (event) => event.waitUntil(begin()));
self.addEventListener("message", (event) => {
  if (event.data === "take-over") event.waitUntil(self.skipWaiting());
  if (event.data === "version") event.source?.postMessage({ desorb: "version", version: VERSION });
});
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  if (request.mode === "navigate") {
    if (isPage(address.pathname)) event.respondWith(kept(SHELL, request));
  } else if (address.pathname in DIGESTS) event.respondWith(kept(address.pathname, request));
});

// Every page under /site/ is the shell; the few files under it are themselves.
function isPage(path) {
  return path === "/site" || (path.startsWith(SHELL) && !/\.[a-z]+$/.test(path));
}

async function keepAll() {
  const fetched = await Promise.all(Object.entries(DIGESTS).map(fetchOne));
  const cache = await caches.open(CACHE);
  await Promise.all(fetched.map(([address, answer]) => cache.put(address, answer)));
}

async function fetchOne([address, digest]) {
  const answer = await fetch(address, { cache: "reload", redirect: "error" });
  if (!answer.ok) throw new Error(`${address} answered ${answer.status}`);
  const bytes = await answer.clone().arrayBuffer();
  const found = Array.from(new Uint8Array(await crypto.subtle.digest("SHA-256", bytes)), (byte) => byte.toString(16).padStart(2, "0"));
  if (found.join("") !== digest) throw new Error(`${address} is not the file of version ${VERSION}`);
  return [address, answer];
}

async function begin() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith(PREFIX) && name !== CACHE).map((name) => caches.delete(name)));
  await self.clients.claim();
}

async function kept(address, request) {
  const cache = await caches.open(CACHE);
  return (await cache.match(address)) ?? fetch(request);
}
