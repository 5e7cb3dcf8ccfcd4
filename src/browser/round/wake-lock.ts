/** Keeps the screen from going dark while the round is in sight, where the browser can. */
export function keepScreenOn(): void {
  const locks = navigator.wakeLock as WakeLock | undefined;
  if (locks === undefined) return;
  const hold = () => {
    if (document.visibilityState === 'visible') locks.request('screen').catch(() => undefined);
  };
  // A lock ends by itself when the page goes out of sight.
  document.addEventListener('visibilitychange', hold);
  hold();
}
