// Lets a round's page be loaded again without a network. It answers for pages of rounds and for what they are made of,
// and only when the network does not; everything else, and whatever writes, goes by untouched.

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

const roundPage = /^\/rounds\/[0-9a-f-]{36}(\/end|\/(racks|systems)\/[0-9a-f-]{36})?$/;

/** Every page of a round stands for all of them: the script draws the rack of the address from the tablet's copy. */
const keyOf = (url: URL) => (roundPage.test(url.pathname) ? '/rounds/page' : url.pathname + url.search);

const answersFor = (url: URL) => roundPage.test(url.pathname) || url.pathname.startsWith('/assets/');

async function keep(url: URL, answer: Response): Promise<void> {
  if (!answer.ok || answer.redirected) return;
  await (await caches.open(kept)).put(keyOf(url), answer);
}

async function networkFirst(request: Request, url: URL, event: WorkerEvent): Promise<Response> {
  try {
    const answer = await fetch(request);
    event.waitUntil(keep(url, answer.clone()));
    return answer;
  } catch (away) {
    const copy = await (await caches.open(kept)).match(keyOf(url));
    if (copy === undefined) throw away;
    return copy;
  }
}

worker.addEventListener('install', (event) => (event as WorkerEvent).waitUntil(worker.skipWaiting()));
worker.addEventListener('activate', (event) => (event as WorkerEvent).waitUntil(worker.clients.claim()));

worker.addEventListener('fetch', (event) => {
  const { request, respondWith } = event as AskedEvent;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== location.origin || !answersFor(url)) return;
  respondWith.call(event, networkFirst(request, url, event as WorkerEvent));
});

// The page that was open before this worker answered for it says what it is made of.
worker.addEventListener('message', (event) => {
  const urls = (event as MessageEvent<string[]>).data.map((url) => new URL(url));
  const all = urls.filter(answersFor).map(async (url) => keep(url, await fetch(url)));
  (event as unknown as WorkerEvent).waitUntil(Promise.allSettled(all));
});

export {};
