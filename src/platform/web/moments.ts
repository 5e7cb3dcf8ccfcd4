import { Temporal } from 'temporal-polyfill';
import { z } from 'zod';
import { minuteMs } from '../../science/numeric/time.ts';
import { localDay } from '../days.ts';
import { described, fieldShapes } from '../door/field-shapes.ts';
import { shownThere } from '../words/zone-offset.ts';

const cannotBe = { error: 'That day cannot be meant.' };

/** Whether it lies in the centuries that farms and databases know. */
export const isThinkable = (at: Date) => at.getUTCFullYear() >= 1900 && at.getUTCFullYear() <= 2999;

/** A local day, "2026-11-24", within the centuries that farms and databases know. `error`: what to say of another text. */
export const calendarDay = (error?: string) =>
  z.iso.date(error).refine((day) => isThinkable(new Date(day)), cannotBe);

/** How far ahead of the service's clock a device's may be. */
const toleranceMs = 5 * minuteMs;

/** "2026-11-24T07:30" in the site's zone, as a datetime-local input takes it. */
export function inputMoment(at: Date, timeZone: string): string {
  return shownThere(at, timeZone).toISOString().slice(0, -8);
}

const momentWords =
  'When it was: an instant of ISO 8601, or like 2026-11-24T07:30 in the site’s time; empty or left out for now';

/**
 * A datetime-local field in the site's zone, or an ISO 8601 instant, that is not in the future; empty means now.
 */
export const pastMoment = (timeZone: string, now: Date) =>
  z
    .string()
    .nullable()
    .default('')
    .transform((typed, context): Date => {
      if (typed === null || typed.trim() === '') return now;
      const at = parse(typed.trim(), timeZone, now);
      if (at === null || typeof at === 'string') {
        const message = at ?? 'Enter the day and the time, like 2026-11-24 07:30.';
        context.addIssue({ code: 'custom', message });
        return z.NEVER;
      }
      if (isFuture(at, now)) {
        context.addIssue({ code: 'custom', message: 'That is in the future. Enter when it was done.' });
        return z.NEVER;
      }
      return at;
    })
    .register(fieldShapes, { json: { type: ['string', 'null'], description: momentWords } });

/** Whether a time is further ahead than clocks differ. */
export const isFuture = (at: Date, now: Date): boolean => at.getTime() > now.getTime() + toleranceMs;

/** A moment of one of many things: what cannot be read is no date (NaN), and what lies ahead stays, so that each is judged by itself. */
export const momentAsGiven = (timeZone: string, now: Date) =>
  z
    .string()
    .nullable()
    .default('')
    .transform((typed): Date => {
      if (typed === null || typed.trim() === '') return now;
      const at = parse(typed.trim(), timeZone, now);
      return at instanceof Date ? at : new Date(Number.NaN);
    })
    .register(fieldShapes, { json: { type: ['string', 'null'], description: momentWords } });

/** Like {@link pastMoment}, of what is there already: empty is refused. `what`: "when it was opened". */
export const statedMoment = (what: string, timeZone: string, now: Date) =>
  z
    .string({ error: `Enter ${what}.` })
    .trim()
    .min(1, `Enter ${what}.`)
    .transform((typed): string | null => typed)
    .pipe(pastMoment(timeZone, now) as z.ZodType<Date, string | null>)
    .register(fieldShapes, {
      json: {
        type: 'string',
        description: `${described(what)}: an instant of ISO 8601, or like 2026-11-24T07:30 in the site’s time`,
      },
      needed: true,
    });

/** The hour that a past day without a time is kept with; own choice: whatever the zone, it stays that day. */
const noon = '12:00';

/** Like {@link pastMoment}; a day alone means now where it is today, else noon of that day. */
export const pastDayOrMoment = (timeZone: string, now: Date) =>
  z
    .preprocess(
      (typed) => {
        const day = typeof typed === 'string' ? typed.trim() : '';
        if (!/^\d{4}-\d{2}-\d{2}$/.test(day)) return typed;
        return day === localDay(now, timeZone) ? '' : `${day}T${noon}`;
      },
      pastMoment(timeZone, now),
    )
    .register(fieldShapes, {
      json: { type: ['string', 'null'], description: `${momentWords}; a day alone is taken too` },
    });

const instant = /T.*(Z|[+-]\d\d:?\d\d)$/i;

function parse(typed: string, timeZone: string, now: Date): Date | string | null {
  try {
    const at = parseAny(typed, timeZone, now);
    return typeof at === 'string' || isThinkable(at) ? at : null;
  } catch {
    return null;
  }
}

/** A time that came twice, typed within so long of it, is the one nearest to now; own choice. */
const stillThatNightMs = 2 * 60 * minuteMs;

/** The moment; or, of an hour that the clock change left out or gave twice, what to do: it is never shifted in silence. */
function parseAny(typed: string, timeZone: string, now: Date): Date | string {
  if (instant.test(typed)) return new Date(Temporal.Instant.from(typed).epochMilliseconds);
  const local = Temporal.PlainDateTime.from(typed.replace(' ', 'T'));
  const [first, second] = (['earlier', 'later'] as const).map((disambiguation) =>
    local.toZonedDateTime(timeZone, { disambiguation }),
  ) as [Temporal.ZonedDateTime, Temporal.ZonedDateTime];
  if (first.epochMilliseconds === second.epochMilliseconds) return new Date(first.epochMilliseconds);
  const [time, day] = [local.toPlainTime().toString({ smallestUnit: 'minute' }), local.toPlainDate()];
  if (!first.toPlainDateTime().equals(local))
    return `There was no ${time} on ${day}: the clocks went forward over it. Enter the time that the clock showed.`;
  const latest = now.getTime() + toleranceMs;
  if (latest - first.epochMilliseconds <= stillThatNightMs)
    return new Date(second.epochMilliseconds <= latest ? second.epochMilliseconds : first.epochMilliseconds);
  const [one, other] = [first, second].map(({ offset }) => `${day}T${time}${offset}`);
  return `${time} came twice on ${day}, when the clocks went back. Enter a time before or after that hour, or which it was: ${one} or ${other}.`;
}
