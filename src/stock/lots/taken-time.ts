import { z } from 'zod';
import { isThinkable } from '../../platform/web/moments.ts';

/** When a photo was taken, by the service's clock: corrected by how far the device's clock is off as it sends. Never in the future; now where it cannot be. */
export function takenTime(takenAt: string | null, deviceTime: unknown, now: Date): Date {
  if (takenAt === null) return now;
  const shown = z.iso.datetime({ offset: true }).safeParse(deviceTime).data;
  const ahead = shown === undefined ? 0 : Date.parse(shown) - now.getTime();
  const at = new Date(Math.min(now.getTime(), Date.parse(takenAt) - ahead));
  return isThinkable(at) ? at : now;
}
