// Lets pages of rounds, and those of "Report trouble", be loaded without a network. It answers for them and for what
// they are made of, and only when the network does not; everything else, and whatever writes, goes by untouched.

interface WorkerEvent extends Event {
  waitUntil(work: Promise<unknown>): void;
}
interface AskedEvent extends WorkerEvent {
  request: Request;
  respondWith(answer: Promise<Response>): void;
}

const kept = 'evenwater-rounds';
const worker = globalThis as unknown as EventTarget & {
  skipWaiting(): Promise<void>;
  clients: { claim(): Promise<void> };
};

const roundPage =
  /^\/rounds\/[0-9a-f-]{36}(\/end|\/racks\/[0-9a-f-]{36}|\/systems\/[0-9a-f-]{36}(\/tests)?)?$/;

const emergencyPage = /^\/emergencies(\/events\/[a-z-]+|\/[0-9a-f-]{36})?$/;

/** Every page of a round stands for all of them: the script draws the rack of the address from the tablet's copy. */
function keyOf(url: URL): string {
  if (roundPage.test(url.pathname)) return '/rounds/page';
  return emergencyPage.test(url.pathname) ? url.pathname : url.pathname + url.search;
}

/** A photo never changes under its key. */
const photo = /^\/photos\/[0-9a-f-]{36}\/small$/;
const keptPhotos = 'evenwater-round-photos';

async function photoFirst(request: Request): Promise<Response> {
  return (await (await caches.open(keptPhotos)).match(request.url)) ?? fetch(request);
}

/** Fetches the photos that are not kept yet, one after the other so that nothing else waits, and drops those not named. */
async function keepPhotos(paths: readonly string[]): Promise<void> {
  const cache = await caches.open(keptPhotos);
  const named = new Set(paths.filter((path) => photo.test(path)));
  const there = new Set((await cache.keys()).map(({ url }) => new URL(url).pathname));
  for (const path of there) if (!named.has(path)) await cache.delete(path);
  for (const path of named) {
    if (there.has(path)) continue;
    const answer = await fetch(path).catch(() => null);
    if (answer === null) return;
    if (answer.ok && !answer.redirected) await cache.put(path, answer);
  }
}

const answersFor = ({ pathname }: URL) =>
  roundPage.test(pathname) || emergencyPage.test(pathname) || pathname.startsWith('/assets/');

/** How long a network that is there but does not answer is waited for where there is a copy, ms. Own choice. */
const patience = 3000;

/** Keeps an answer that is worth it. @returns whether it was */
async function keep(url: URL, answer: Response): Promise<boolean> {
  if (!answer.ok || answer.redirected) return false;
  await (await caches.open(kept)).put(keyOf(url), answer);
  return true;
}

const copyOf = async (url: URL) => (await caches.open(kept)).match(keyOf(url));

/** An asset under a mark of its content: what is kept of it is what the service has. */
const isMarked = ({ pathname, searchParams }: URL) =>
  pathname.startsWith('/assets/') && searchParams.has('v');

/** Whether what a page loaded last was kept; a page that says what it is made of takes it from here. */
const loaded = new Map<string, Promise<boolean>>();

async function answerTo(request: Request, url: URL, event: WorkerEvent): Promise<Response> {
  return (isMarked(url) ? await copyOf(url) : undefined) ?? networkFirst(request, url, event);
}

async function networkFirst(request: Request, url: URL, event: WorkerEvent): Promise<Response> {
  const asked = fetch(request);
  const whole = asked.then((answer) => keep(url, answer.clone())).catch(() => false);
  // The numbers of "Report trouble" are asked for as they stand when its copy is renewed.
  if (!emergencyPage.test(url.pathname)) loaded.set(keyOf(url), whole);
  event.waitUntil(whole);
  const late = new Promise<void>((resolve) => setTimeout(resolve, patience));
  // A service that is down answers through its proxy: 5xx is as good as no answer.
  const failed = asked.then(({ status }) => status >= 500);
  const away = await Promise.race([failed, late.then(() => true)]).catch(() => true);
  return (away ? await copyOf(url) : undefined) ?? asked;
}

worker.addEventListener('install', (event) => (event as WorkerEvent).waitUntil(worker.skipWaiting()));
worker.addEventListener('activate', (event) => (event as WorkerEvent).waitUntil(worker.clients.claim()));

worker.addEventListener('fetch', (event) => {
  const { request, respondWith } = event as AskedEvent;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== location.origin) return;
  if (photo.test(url.pathname)) return respondWith.call(event, photoFirst(request));
  if (!answersFor(url)) return;
  respondWith.call(event, answerTo(request, url, event as WorkerEvent));
});

/** Sees to it that an address is kept: fetches it, unless the page has just loaded it through this worker. */
async function ensureKept(url: URL): Promise<boolean> {
  if (isMarked(url) && (await copyOf(url)) !== undefined) return true;
  const ofPage = loaded.get(keyOf(url));
  loaded.delete(keyOf(url));
  return (await ofPage) || keep(url, await fetch(url));
}

// A page says what it is made of, since this worker may not have answered for it yet, and hears whether all is kept.
worker.addEventListener('message', (event) => {
  const { data, ports } = event as MessageEvent<string[] | { photos: string[] }>;
  if (!Array.isArray(data))
    return (event as unknown as WorkerEvent).waitUntil(keepPhotos(data.photos).catch(() => undefined));
  const urls = data.map((url) => new URL(url)).filter(answersFor);
  const all = Promise.all(urls.map(ensureKept));
  const told = all.then((each) => each.every(Boolean)).catch(() => false);
  (event as unknown as WorkerEvent).waitUntil(told.then((whole) => ports[0]?.postMessage(whole)));
});

export {};
