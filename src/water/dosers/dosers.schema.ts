import { z } from 'zod';
import { optionalVolume, volume } from '../../platform/web/fields/measures.ts';
import { choice, number, optionalNumber, optionalText, text, tick } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { alreadyThereAnswers } from './same-days.ts';

/** A calibration as measured: so many mL in so many minutes or strokes. */
export const calibrationSchema = (timeZone: string, now: Date) =>
  z.object({
    ml: number({ what: 'how much came out', low: 0.01, high: 1e5, unit: 'mL' }),
    runs: number({ what: 'how long it ran, or how many strokes', low: 0.01, high: 1e5 }),
    per: choice(['minute', 'stroke'], 'Choose minutes or strokes.'),
    againDays: optionalNumber({ what: 'when it is measured again', low: 1, high: 3650, unit: 'days' }),
    at: pastMoment(timeZone, now),
    note: optionalText(300),
  });
export type CalibrationInput = z.output<ReturnType<typeof calibrationSchema>>;

/** What it is set to give from a time on. */
export const doserPlanSchema = (timeZone: string, now: Date) =>
  z.object({
    substance: text('what is dosed', 200),
    perDay: number({ what: 'how much a day', low: 0.001, high: 1e6 }),
    unit: choice(['mL', 'minutes', 'strokes'], 'Choose mL, minutes or strokes.'),
    at: pastMoment(timeZone, now),
    reason: optionalText(500),
    /** Only where the days of the plan hold doses of the same already. */
    alreadyThere: choice(['', ...alreadyThereAnswers], 'Say whether they are the same doses.').default(''),
  });
export type DoserPlanInput = z.output<ReturnType<typeof doserPlanSchema>>;

/** A look into the container; filled up afterwards or not. */
export const levelSchema = (timeZone: string, now: Date) =>
  z
    .object({
      seenL: volume({ what: 'how much is left', low: 0, high: 1e5 }),
      filled: tick(),
      filledL: optionalVolume({ what: 'how much is in it now', low: 0, high: 1e5 }),
      at: pastMoment(timeZone, now),
    })
    .refine(({ filled, filledL }) => !filled || filledL !== null, {
      path: ['filledL'],
      error: 'Enter how much is in it after filling.',
    });
export type LevelInput = z.output<ReturnType<typeof levelSchema>>;
