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

const fetchPage = async () => keepPage(await fetch(PAGE, { cache: "reload", credentials: "same-origin" }));

const install = async () => {
  const cache = await caches.open(CACHE);
  await cache.addAll(FILES.map((url) => new Request(url, { cache: "reload" })));
  await fetchPage().catch(() => {});
  await self.skipWaiting();
};

const activate = async () => {
  for (const name of await caches.keys()) if (name.startsWith("pourback-") && name !== CACHE) await caches.delete(name);
  await self.clients.claim();
};

const kept = async () => (await caches.open(CACHE)).match(PAGE);

// Only as it is before anything is chosen: until its script runs, the page of one docket would take codes for that one.
const keepSuch = async (request, answer) => {
  if (!new URL(request.url).search) await keepPage(answer);
  else if (answer.ok && !answer.redirected && !(await kept())) await fetchPage();
};

const page = async (event) => {
  const asked = fetch(event.request);
  event.waitUntil(asked.then((answer) => keepSuch(event.request, answer.clone())).catch(() => {}));
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
