import { dayMs, hourMs, minuteMs } from '../../science/numeric/time.ts';

/** Waits after the first failure, the second and so on: about a day in all (own choice, near the specification's advice). */
const waitsMs = [1 * minuteMs, 5 * minuteMs, 15 * minuteMs, 1 * hourMs, 3 * hourMs, 6 * hourMs, 12 * hourMs];

/** How long an address may fail before nothing is sent to it any more (own choice: longer than a weekend). */
const failingDays = 4;

/** 410: the receiver wants nothing more (RFC 9110, 15.5.11; Standard Webhooks asks senders to stop). */
const gone = 410;

/** When a delivery is tried again after its n-th failure; null where it is given up. */
export function nextTry(attempts: number, status: number | null, now: Date): Date | null {
  const wait = status === gone ? undefined : waitsMs[attempts - 1];
  return wait === undefined ? null : new Date(now.getTime() + wait);
}

/** Why an address is switched off after a failure; null where it goes on. */
export function reasonToStop(status: number | null, failingSince: Date, now: Date): string | null {
  if (status === gone) return 'It answered 410: it wants nothing more.';
  return now.getTime() - failingSince.getTime() >= failingDays * dayMs
    ? `Nothing was taken for ${failingDays} days.`
    : null;
}

/** Taken is what is answered with a status from 200 to 299; a redirection is not followed. */
export const isTaken = (status: number | null): boolean => status !== null && status >= 200 && status < 300;
