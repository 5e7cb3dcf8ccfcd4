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
    if (active !== null && (await keptBy(active))) document.documentElement.dataset.reloads = '';
  } catch {
    // Without it all still works but a reload without a network.
  }
}

/** Has the worker keep this page and what it is made of; whether it has all of it. */
function keptBy(worker: ServiceWorker): Promise<boolean> {
  const parts = performance.getEntriesByType('resource').map((entry) => entry.name);
  const own = parts.filter((url) => url.startsWith(`${location.origin}/assets/`));
  const { port1, port2 } = new MessageChannel();
  return new Promise((resolve) => {
    port1.onmessage = ({ data }) => resolve(data === true);
    worker.postMessage([location.href, ...own], [port2]);
  });
}
