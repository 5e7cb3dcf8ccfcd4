import { z } from 'zod';
import { addDays, localDay, momentOf } from '../../platform/days.ts';
import { optionalText, text } from '../../platform/web/fields.ts';

/** What somebody did about an alert. */
export const actSchema = z.object({ what: text('what was done', 300) });

/** An alert can be put off for at most this many days; what is longer is a limit that wants changing. */
const longestPostponement = 60;

/** The last day to which an alert can be put off. */
export function lastDay(timeZone: string, now: Date): string {
  return addDays(localDay(now, timeZone), longestPostponement);
}

/** The form that puts an alert off: a reason, and the local day on whose morning it comes back. */
export const postponementSchema = (timeZone: string, now: Date) =>
  z.object({
    reason: text('why it can wait'),
    watcher: optionalText(200),
    until: text('the day it comes back').transform((day, context): Date => {
      const at = morningOf(day, timeZone);
      const [today, last] = [localDay(now, timeZone), lastDay(timeZone, now)];
      if (at !== null && day > today && day <= last) return at;
      context.addIssue({
        code: 'custom',
        message: `Choose a day after today, at the latest ${last} (${longestPostponement} days).`,
      });
      return z.NEVER;
    }),
  });

/** Alerts come back before the morning digest is made. */
const morning = '05:00';

function morningOf(day: string, timeZone: string): Date | null {
  try {
    return /^\d{4}-\d{2}-\d{2}$/.test(day) ? momentOf(day, morning, timeZone) : null;
  } catch {
    return null;
  }
}
