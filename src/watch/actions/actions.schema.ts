import { z } from 'zod';
import {
  choice,
  number,
  optionalChosen,
  optionalNumber,
  optionalText,
  text,
  tick,
  version,
} from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { doserFindings } from '../answers/doser-findings.rules.ts';

/** Lamps turned now, and whether they go up again by steps. */
export const lampsSchema = z.object({
  percent: number({ what: 'the setting', low: 0, high: 100, unit: 'per cent' }),
  up: tick(),
});

/** The kit that is opened in place of another. */
export const kitSchema = z.object({
  methodId: z.uuid({ error: 'Open the alert again.' }),
  label: text('what the kit is called on the bench', 60),
  lotNumber: optionalText(60),
  oldKitId: optionalChosen(),
  putAway: tick(),
  tests: tick(),
});

/** The routine as the alert asked for it when it was looked at. */
export const routineSchema = z.object({
  routineId: optionalText(40),
  version: version().default(0),
  fraction: number({ what: 'the part that is changed', low: 0.001, high: 1 }),
  everyDays: number({ what: 'every how many days', low: 1, high: 366 }),
});

const found = doserFindings.map(({ value }) => value) as [string, ...string[]];

/** What was found at a doser, whether it gives its full amount again, and since when (empty: now). */
export const doserSchema = (timeZone: string, now: Date) =>
  z
    .object({
      found: choice(found, 'Choose what you found.'),
      again: choice(['', 'yes', 'no'], 'Say whether it gives its full amount again.'),
      since: pastMoment(timeZone, now),
      givenMl: optionalNumber({ what: 'what it gave in a minute', low: 0, high: 10_000, unit: 'mL' }),
      note: optionalText(300),
    })
    .refine(({ found, again }) => found === 'well' || again !== '', {
      path: ['again'],
      error: 'Say whether it gives its full amount again. What is found is not yet put right.',
    });

/** One test, made now; `sure`: an unusual value is right. */
export const testSchema = z.object({
  code: text('what is tested', 40),
  value: text('what the test shows', 60),
  unit: text('the unit', 40),
  how: optionalText(80),
  sure: tick(),
});
