import { z } from 'zod';
import { localDay } from '../../platform/days.ts';
import { unitChoices } from '../../platform/units/units.ts';
import { optionalMass } from '../../platform/web/fields/measures.ts';
import {
  choice,
  many,
  number,
  optionalChosen,
  optionalNumber,
  optionalText,
  text,
  version,
} from '../../platform/web/fields.ts';
import { calendarDay } from '../../platform/web/moments.ts';
import { doseUnits } from '../log/doses.ts';
import { evenInterval } from './routines.rules.ts';

/** Kinds of routines, in the order of the form. */
export const ROUTINE_WORK = ['test', 'water_change', 'dose', 'feeding'] as const;
export type RoutineWork = (typeof ROUTINE_WORK)[number];

const weekdays = z
  .union([many(), z.array(z.number())])
  .default([])
  .transform((days) => [...new Set(days.map(Number))].sort((a, b) => a - b))
  .pipe(
    z.array(z.int('Choose from the list.').min(1, 'Choose from the list.').max(7, 'Choose from the list.')),
  );

const common = (today: string) => ({
  weekdays,
  everyDays: optionalNumber({ what: 'every how many days', low: 1, high: 366 }),
  startsOn: optionalText(10)
    .transform((typed) => (typed === '' ? today : typed))
    .pipe(calendarDay('Enter the first day like 2026-11-24.')),
  version: version().default(0),
});

/** A routine as entered; the first day is today unless given. */
export function routineSchema(timeZone: string, now: Date) {
  const shared = common(localDay(now, timeZone));
  return routineWork(shared)
    .refine(({ weekdays: days, everyDays }) => days.length > 0 || everyDays !== null, {
      path: ['everyDays'],
      error: 'Choose the weekdays, or say every how many days.',
    })
    .refine(({ weekdays: days, everyDays }) => days.length === 0 || everyDays === null, {
      path: ['everyDays'],
      error: 'Weekdays are chosen and an interval is typed. Leave one of the two empty.',
    })
    .transform((routine) => ({
      ...routine,
      everyDays:
        routine.weekdays.length > 0 ? 7 / routine.weekdays.length : evenInterval(routine.everyDays ?? 1),
    }));
}

function routineWork(shared: ReturnType<typeof common>) {
  return z.discriminatedUnion(
    'work',
    [
      z.object({ ...shared, work: z.literal('test'), quantityCode: text('what is tested', 40) }),
      z.object({
        ...shared,
        work: z.literal('water_change'),
        volume: number({ what: 'how much is changed', low: 0.01, high: 1e7 }),
        volumeUnit: choice([...unitChoices.volume, '%'], 'Choose the unit of the list.'),
      }),
      z.object({
        ...shared,
        work: z.literal('dose'),
        substance: text('what is dosed'),
        amount: number({ what: 'the amount', low: 1e-6, high: 1e6 }),
        unit: choice(doseUnits, 'Choose the unit of the amount.'),
        reason: optionalText(500),
      }),
      z.object({
        ...shared,
        work: z.literal('feeding'),
        food: text('what is fed'),
        amountG: optionalMass({ what: 'the amount', low: 0.001, high: 1e5 }),
        tankId: optionalChosen(),
        pumpsOffMin: optionalNumber({
          what: 'how long the pumps are off',
          low: 1,
          high: 240,
          unit: 'min',
        }).transform((minutes) => (minutes === null ? null : Math.round(minutes))),
      }),
    ],
    { error: 'Choose what is done: a test, a water change, a dose or a feeding.' },
  );
}

type Typed = z.output<ReturnType<typeof routineSchema>>;
type TypedDose = Extract<Typed, { work: 'dose' }>;

/** A routine to be planned; `reason`: why its dose is right although it is unusual. */
export type RoutineInput = Exclude<Typed, TypedDose> | (Omit<TypedDose, 'reason'> & { reason?: string });

export const endSchema = z.object({ version: version() });
