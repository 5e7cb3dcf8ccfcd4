import { z } from 'zod';
import { choice, number, optionalNumber, optionalText, text, tick } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { type RackSlot, slotName } from '../racks/slots.rules.ts';

/** Highest PAR taken: full sun at noon is about 2,000 umol/(m2 s). */
const HIGHEST_PAR = 2900;

const immersionFactor = number({ what: 'the immersion factor', low: 1, high: 1.6 });
const lampPercent = { what: 'the setting of the lamps', low: 1, high: 100, unit: 'per cent' };
const meter = text('which meter it was', 80);

export interface SurveyInput {
  measuredAt: Date;
  meter: string;
  immersionFactor: number;
  factorInMeter: boolean;
  /** The person confirmed a factor that differs from the one this meter had before. */
  factorChecked: boolean;
  lampPercent: number | null;
  /** The lamps stay at this setting, so it is entered in their history where that says otherwise. */
  settingStays: boolean;
  note: string;
  points: { slotId: string; raw: number }[];
}

/** Fewest readings a survey needs (own choice: three make a triangle, within which light can be estimated). */
export const fewestReadings = (slots: number): number => Math.min(3, slots);

const tooFew = (slots: number) =>
  `Enter the light at ${slots < 3 ? 'every slot' : 'three slots at least'}; the corners and the middle say most.`;

/**
 * The form of a survey: one input a slot, named as the slot ("B7"), empty where it was not measured. What was pasted is
 * filled in before (`joinPasted`); `pasteFault` says why it could not be.
 */
export const surveySchema = (
  slots: readonly RackSlot[],
  lit: boolean,
  timeZone: string,
  now: Date,
  pasteFault: string | null,
) => {
  const cells = slots.map((slot) => {
    const range = { what: `the light at ${slotName(slot)}`, low: 0, high: HIGHEST_PAR };
    return [slotName(slot), optionalNumber(range)] as const;
  });
  return z
    .object({
      measuredAt: pastMoment(timeZone, now),
      meter,
      immersionFactor,
      shown: choice(['raw', 'corrected'], 'Say whether the meter already applies the factor.'),
      factorChecked: tick(),
      lampPercent: lit ? number(lampPercent) : optionalNumber(lampPercent),
      settingStays: tick(),
      note: optionalText(),
      ...Object.fromEntries(cells),
    })
    .transform((typed, context): SurveyInput => {
      const values = typed as Record<string, unknown>;
      const points = slots.flatMap((slot) => {
        const raw = values[slotName(slot)];
        return typeof raw === 'number' ? [{ slotId: slot.slotId, raw }] : [];
      });
      if (pasteFault !== null) context.addIssue({ code: 'custom', path: ['pasted'], message: pasteFault });
      else if (points.length < fewestReadings(slots.length))
        context.addIssue({ code: 'custom', path: ['A1'], message: tooFew(slots.length) });
      const { measuredAt, meter: name, factorChecked, settingStays, note } = typed;
      return {
        measuredAt,
        meter: name,
        immersionFactor: typed.immersionFactor,
        factorInMeter: typed.shown === 'corrected',
        factorChecked,
        lampPercent: typed.lampPercent,
        settingStays,
        note,
        points,
      };
    });
};

/** A survey as JSON from another program: slots by name ("B7"), times with their offset. */
export const surveyBody = z.strictObject({
  rackId: z.uuid({ error: 'Name the rack by its id.' }),
  measuredAt: z.iso
    .datetime({ offset: true, error: 'Give the time with its offset, as RFC 3339 has it.' })
    .transform((at) => new Date(at)),
  meter: z.string().trim().min(1).max(80),
  immersionFactor: z.number().min(1).max(1.6),
  factorInMeter: z.boolean(),
  factorChecked: z.boolean().default(false),
  lampPercent: z.number().min(1).max(100).nullable().default(null),
  settingStays: z.boolean().default(false),
  note: z.string().max(2000).default(''),
  points: z
    .array(
      z.strictObject({ slot: z.string().regex(/^[A-Z]\d{1,2}$/), raw: z.number().min(0).max(HIGHEST_PAR) }),
    )
    .min(1)
    .max(1040),
});

export const voidSchema = z.object({ reason: text('why it does not count') });
