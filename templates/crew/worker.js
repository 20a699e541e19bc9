// Keeps the crew pages of today and tomorrow for two days, and what they load, so that they open
// without a signal. It keeps only what a page asks it to keep, and no gate code is in any of that.

const SHELL = {{ shell|safe }};
const SHELL_CACHE = "crew-shell-{{ version }}";
const DAYS_CACHE = "crew-days";
const NO_SIGNAL = "/crew/no-signal/";
const KEPT_MS = 2 * 24 * 3600 * 1000;
const PATIENCE_MS = 5000;
const KEPT_AT = "X-Kept-At";
const EXACTLY = { ignoreVary: true, ignoreSearch: true }; // by its path, whatever else the browser says

self.addEventListener("install", (event) => {
  const fresh = SHELL.map((address) => new Request(address, { cache: "reload" }));
  event.waitUntil(caches.open(SHELL_CACHE).then((cache) => cache.addAll(fresh)));
  self.skipWaiting();
});

self.addEventListener("activate", (event) => event.waitUntil(begin()));

async function begin() {
  const old = (await caches.keys()).filter((name) => name.startsWith("crew-shell-") && name !== SHELL_CACHE);
  await Promise.all(old.map((name) => caches.delete(name)));
  await self.clients.claim();
}

self.addEventListener("message", (event) => {
  if (event.data.keep) event.waitUntil(keep(event.data.keep));
});

async function keep(addresses) {
  const cache = await caches.open(DAYS_CACHE);
  const wanted = [...addresses, NO_SIGNAL].map((address) => new URL(address, self.location).href);
  for (const kept of await cache.keys()) if (!wanted.includes(kept.url)) await cache.delete(kept);
  for (const address of wanted) await keepOne(cache, address);
}

async function keepOne(cache, address) {
  try {
    const answer = await fetch(address, { redirect: "manual" });
    if (answer.status !== 200) return;
    const headers = new Headers(answer.headers);
    headers.set(KEPT_AT, String(Date.now()));
    headers.delete("Content-Encoding");
    await cache.put(address, new Response(await answer.blob(), { headers }));
  } catch { /* No signal: what is kept stays. */ }
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  if (request.mode === "navigate") event.respondWith(page(request, address));
  else if (SHELL.includes(address.pathname)) event.respondWith(shell(request));
});

async function shell(request) {
  const cache = await caches.open(SHELL_CACHE);
  return (await cache.match(request, EXACTLY)) ?? fetch(request);
}

async function page(request, address) {
  const kept = await keptPage(address);
  const asked = fetch(request);
  try {
    const answer = await (kept ? Promise.race([asked, impatient()]) : asked);
    if (answer.status < 500 || !kept) return answer;
  } catch { asked.catch(() => {}); }
  return kept ?? (await keptPage(new URL(NO_SIGNAL, self.location))) ?? Response.error();
}

function impatient() {
  return new Promise((_, refuse) => setTimeout(refuse, PATIENCE_MS, new Error("slow")));
}

async function keptPage(address) {
  const cache = await caches.open(DAYS_CACHE);
  await dropOld(cache);
  const answer = await cache.match(address.pathname, EXACTLY);
  if (answer || address.pathname !== "/crew/") return answer;
  const days = (await cache.keys()).map((kept) => kept.url).filter((url) => !url.endsWith(NO_SIGNAL)).sort();
  return days.length ? Response.redirect(days.find((url) => url.includes(today())) ?? days[0]) : undefined;
}

async function dropOld(cache) {
  for (const request of await cache.keys()) {
    const answer = await cache.match(request, EXACTLY);
    if (answer && Date.now() - Number(answer.headers.get(KEPT_AT)) > KEPT_MS) await cache.delete(request);
  }
}

function today() {
  const now = new Date();
  return `/${now.getFullYear()}-${String(now.getMonth() + 1).padStart(2, "0")}-${String(now.getDate()).padStart(2, "0")}/`;
}
