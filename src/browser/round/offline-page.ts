import type { TabletRound } from '../store/types.ts';

/**
 * Lets this page be loaded again without a network, where the browser allows it (HTTPS, or this very machine). Once that
 * is so, `<html>` says it: data-reloads.
 */
export async function keepPageOffline(): Promise<void> {
  const workers = navigator.serviceWorker as ServiceWorkerContainer | undefined;
  if (workers === undefined) return;
  try {
    await workers.register('/assets/round-worker.js', { scope: '/rounds/' });
    const { active } = await workers.ready;
    const drawings = ['growth-forms', 'state-signs'].map((name) => `${location.origin}/assets/${name}.svg`);
    if (active !== null && (await keptBy(active, [location.href, ...drawings, ...ownAssets()])))
      document.documentElement.dataset.reloads = '';
  } catch {
    // Without it all still works but a reload without a network.
  }
}

/** Has the worker keep the small photos that the pages of a round show, and let go of all others. */
export async function keepPhotosOffline({ pages }: TabletRound): Promise<void> {
  const { controller = null } = (navigator.serviceWorker as ServiceWorkerContainer | undefined) ?? {};
  const shown = Object.values(pages).flatMap(
    ({ html }) => html.match(/\/photos\/[0-9a-f-]{36}\/small/g) ?? [],
  );
  controller?.postMessage({ photos: [...new Set(shown)] });
}

/** What this page is made of, out of the service's assets. */
export function ownAssets(): string[] {
  const parts = performance.getEntriesByType('resource').map((entry) => entry.name);
  return parts.filter((url) => url.startsWith(`${location.origin}/assets/`));
}

/** Has the worker keep these addresses; whether it has all of them. */
export function keptBy(worker: ServiceWorker, urls: readonly string[]): Promise<boolean> {
  const { port1, port2 } = new MessageChannel();
  return new Promise((resolve) => {
    port1.onmessage = ({ data }) => resolve(data === true);
    worker.postMessage(urls, [port2]);
  });
}
