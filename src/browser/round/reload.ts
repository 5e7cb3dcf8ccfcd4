/** Lets this page be loaded again without a network, where the browser allows it (HTTPS, or this very machine). */
export async function allowReload(): Promise<void> {
  const workers = navigator.serviceWorker as ServiceWorkerContainer | undefined;
  if (workers === undefined) return;
  try {
    await workers.register('/assets/round-worker.js', { scope: '/rounds/' });
    const { active } = await workers.ready;
    const parts = performance.getEntriesByType('resource').map((entry) => entry.name);
    active?.postMessage([
      location.href,
      ...parts.filter((url) => url.startsWith(`${location.origin}/assets/`)),
    ]);
  } catch {
    // Without it all still works but a reload without a network.
  }
}
