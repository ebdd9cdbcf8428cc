// Keeps the scan page at hand when there is no signal: the page and all it needs, one cache a release.
// Nothing but that page and those files is touched; what is sent to the server never passes through here.

const RELEASE = "{{ release }}";
const PAGE = "{{ page }}";
const FILES = {{ files|safe }};
const CACHE = `pourback-${RELEASE}`;
const PATIENCE = 2500; // a bad signal hangs more often than it fails

const keepPage = async (answer) => {
  // A redirect would keep the sign-in page as the scan page; another release's page wants other files.
  if (answer.ok && !answer.redirected && answer.headers.get("X-Pourback-Release") === RELEASE) {
    await (await caches.open(CACHE)).put(PAGE, answer);
  }
};

const install = async () => {
  const cache = await caches.open(CACHE);
  await cache.addAll(FILES.map((url) => new Request(url, { cache: "reload" })));
  await keepPage(await fetch(PAGE, { cache: "reload", credentials: "same-origin" })).catch(() => {});
  await self.skipWaiting();
};

const activate = async () => {
  for (const name of await caches.keys()) if (name.startsWith("pourback-") && name !== CACHE) await caches.delete(name);
  await self.clients.claim();
};

const kept = async () => (await caches.open(CACHE)).match(PAGE);

const page = async (event) => {
  const asked = fetch(event.request);
  event.waitUntil(asked.then((answer) => keepPage(answer.clone())).catch(() => {}));
  const slow = new Promise((resolve) => setTimeout(resolve, PATIENCE));
  const answer = await Promise.race([asked.catch(() => null), slow]);
  if (answer && answer.status < 500) return answer;
  return (await kept()) ?? asked;
};

const file = async (event) => (await (await caches.open(CACHE)).match(event.request)) ?? fetch(event.request);

self.addEventListener("install", (event) => event.waitUntil(install()));
self.addEventListener("activate", (event) => event.waitUntil(activate()));
self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  if (event.request.mode === "navigate" && url.pathname === PAGE) event.respondWith(page(event));
  else if (FILES.includes(url.pathname)) event.respondWith(file(event));
});
