// On every page: keeps the pages of "Report trouble" on this device for when the network is away, and sends what was
// noted without it. `<html data-emergencies>` says that the copy is whole.
import { sendAll } from './emergency/sender.ts';
import { keptBy, ownAssets } from './round/offline-page.ts';

const place = 'evenwater-emergency-copy';
/** How old the copy's numbers may become while pages are opened, ms. Own choice. */
const oldest = 10 * 60 * 1000;

/** The registration's worker once it is active. */
async function activeOf({ active, waiting, installing }: ServiceWorkerRegistration): Promise<ServiceWorker> {
  const worker = active ?? waiting ?? installing;
  if (worker === null) throw new Error('no worker');
  if (worker.state === 'activated') return worker;
  return new Promise((resolve) => {
    worker.addEventListener('statechange', () => worker.state === 'activated' && resolve(worker));
  });
}

async function keepPages(): Promise<void> {
  const workers = navigator.serviceWorker as ServiceWorkerContainer | undefined;
  if (workers === undefined) return;
  const worker = await activeOf(await workers.register('/assets/round-worker.js', { scope: '/emergencies' }));
  const whole = () => {
    document.documentElement.dataset.emergencies = '';
  };
  if (Date.now() - Number(localStorage.getItem(place) ?? 0) < oldest) return whole();
  const answer = await fetch('/api/emergencies', { headers: { accept: 'application/json' } });
  if (!answer.ok) return;
  const { pages } = (await answer.json()) as { pages: string[] };
  const parts = ['/assets/emergency.js', '/assets/emergency-copy.js', '/assets/switched-off.js', ...pages];
  const urls = [...ownAssets(), ...parts.map((path) => `${location.origin}${path}`)];
  if (!(await keptBy(worker, [...new Set(urls)]))) return;
  localStorage.setItem(place, String(Date.now()));
  whole();
}

// Without a worker (no HTTPS) all still works while the network is there.
await keepPages().catch(() => undefined);
// The page of steps sends by itself.
if (document.querySelector('[data-wrong]') === null) {
  addEventListener('online', () => void sendAll());
  void sendAll();
}
