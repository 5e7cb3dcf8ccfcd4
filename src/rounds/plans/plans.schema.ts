import { z } from 'zod';
import {
  choice,
  many,
  optionalChosen,
  optionalNumber,
  optionalText,
  text,
  tick,
  version,
} from '../../platform/web/fields.ts';
import { calendarDay } from '../../platform/web/moments.ts';

/** What a round asks for: each rack looked at; each system tested, fed, dosed, cleaned, its equipment checked. */
export const STEPS = ['look', 'test', 'feed', 'dose', 'clean', 'check'] as const;
export type Step = (typeof STEPS)[number];

const isTimeOfDay = (typed: string) => /^([01]\d|2[0-3]):[0-5]\d$/.test(typed);

const timeOfDay = text('the time').refine(isTimeOfDay, 'Enter a time of day, like 07:30.');

const weekdays = many()
  .transform((days) => [...new Set(days.map(Number))].sort((a, b) => a - b))
  .pipe(z.array(z.int().min(1).max(7)).min(1, 'Choose at least one day.'));

const steps = many().pipe(
  z.array(z.enum(STEPS, { error: 'Choose from the list.' })).min(1, 'Choose at least one step.'),
);

/** Letters of the longest name of a plan. */
export const longestPlanName = 60;

const MOST_CHORES = 30;

/** One chore a line; empty lines and repeats are left out. */
const chores = optionalText(4000)
  .transform((typed) =>
    [...new Set(typed.split('\n').map((line) => line.trim()))].filter((line) => line !== ''),
  )
  .pipe(
    z
      .array(z.string().max(80, 'At most 80 characters a line.'))
      .max(MOST_CHORES, `At most ${MOST_CHORES} lines.`),
  );

/** The field that holds a tank's place in the walk. */
export const placeField = (tankId: string) => `place-${tankId}`;

const place = () => optionalNumber({ what: 'its place in the walk', low: 1, high: 999 });

/**
 * A round plan as its form sends it, for a farm with these tanks: each has a field for its place in the walk, empty
 * where it is not walked past. Tanks of the same place keep the farm's order.
 */
export function planForm(tankIds: readonly string[]) {
  const places = Object.fromEntries(tankIds.map((id) => [placeField(id), place()]));
  return z
    .object({
      name: text('a name', longestPlanName),
      startsAt: timeOfDay,
      weekdays,
      steps,
      chores,
      assigneeId: optionalChosen(),
      paused: tick(),
      version: version().default(0),
      ...places,
    })
    .transform((form, context) => {
      const placed = form as unknown as Record<string, number | null>;
      const walked = tankIds
        .map((id) => ({ id, place: placed[placeField(id)] ?? null }))
        .filter((tank): tank is { id: string; place: number } => tank.place !== null)
        .sort((a, b) => a.place - b.place);
      if (walked.length === 0) {
        const path = [placeField(tankIds[0] ?? '')];
        context.addIssue({ code: 'custom', path, message: 'Number at least one tank.' });
      }
      const { name, startsAt, assigneeId, paused } = form;
      return {
        name,
        startsAt,
        weekdays: form.weekdays,
        steps: STEPS.filter((step) => form.steps.includes(step)),
        chores: form.chores,
        assigneeId,
        paused,
        version: form.version,
        tankIds: walked.map((tank) => tank.id),
      };
    });
}

export type PlanInput = z.output<ReturnType<typeof planForm>>;

/** How a plan is walked on one day: not at all, or at another time, or by somebody else. */
export const dayForm = z
  .object({
    day: text('the day').pipe(calendarDay('Enter the day like 2026-11-24.')),
    walked: choice(['yes', 'no'], 'Choose whether it is walked.'),
    startsAt: optionalText(5).refine(
      (typed) => typed === '' || isTimeOfDay(typed),
      'Enter a time of day, like 07:30, or leave it empty.',
    ),
    assigneeId: optionalChosen(),
    note: optionalText(200),
  })
  .transform(({ walked, startsAt, ...rest }) => ({
    ...rest,
    cancelled: walked === 'no',
    startsAt: startsAt === '' ? null : startsAt,
  }));

export type DayInput = z.output<typeof dayForm>;
