import { z } from 'zod';
import { many, optionalChosen, optionalNumber, text, tick, version } from '../platform/web/fields.ts';

/** What a round asks for: each rack looked at, each system tested, each system fed. */
export const STEPS = ['look', 'test', 'feed'] as const;
export type Step = (typeof STEPS)[number];

const timeOfDay = text('the time').refine(
  (typed) => /^([01]\d|2[0-3]):[0-5]\d$/.test(typed),
  'Enter a time of day, like 07:30.',
);

const weekdays = many()
  .transform((days) => [...new Set(days.map(Number))].sort((a, b) => a - b))
  .pipe(z.array(z.int().min(1).max(7)).min(1, 'Choose at least one day.'));

const steps = many().pipe(
  z.array(z.enum(STEPS, { error: 'Choose from the list.' })).min(1, 'Choose at least one step.'),
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
      name: text('a name', 60),
      startsAt: timeOfDay,
      weekdays,
      steps,
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
        assigneeId,
        paused,
        version: form.version,
        tankIds: walked.map((tank) => tank.id),
      };
    });
}

export type PlanInput = z.output<ReturnType<typeof planForm>>;
