import { z } from 'zod';
import { optionalLength } from '../../platform/web/fields/measures.ts';
import { chosen, many, number, optionalText, text } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';

const hours = {
  litHours: number({ what: 'the hours from first to last light', low: 0, high: 24, unit: 'hours' }),
  rampHours: number({ what: 'the length of one ramp', low: 0, high: 12, unit: 'hours' }),
};

const percent = number({ what: 'the setting', low: 0, high: 100, unit: 'per cent' });

/** Both ramps lie within the lit hours. */
const rampsFit = {
  check: ({ litHours, rampHours }: { litHours: number; rampHours: number }) => 2 * rampHours <= litHours,
  say: {
    path: ['rampHours'],
    message: 'Two ramps of that length do not fit into the lit hours. Enter a shorter one.',
  },
};

const racks = many().pipe(z.array(z.uuid({ error: 'Choose racks of the list.' })));

const hanging = {
  model: optionalText(60).default(''),
  heightMm: optionalLength('the height above the water', 0, 500).default(null),
};

/** New lamps; `since` is when they were set so, in the site's zone, and now where it is left empty. */
export const lampSchema = (timeZone: string, now: Date) =>
  z
    .object({
      name: text('a name', 40),
      percent,
      ...hours,
      ...hanging,
      since: pastMoment(timeZone, now),
      racks,
    })
    .refine(rampsFit.check, rampsFit.say);

/** One lamp a rack: as new lamps, named after their racks. */
export const lampsEachSchema = (timeZone: string, now: Date) =>
  z
    .object({
      ...{ percent, ...hours, ...hanging, since: pastMoment(timeZone, now) },
      racks: racks.pipe(z.array(z.string()).min(1, { error: 'Tick the racks that get a lamp.' })),
    })
    .refine(rampsFit.check, rampsFit.say);

/** `seen`: name and racks as the form was drawn, so that somebody else's change is noticed. */
export const lampEditSchema = z.object({
  name: text('a name', 40),
  racks,
  seen: text('what was seen', 4000),
});

/** Lamps that hang over another tank from a time on. */
export const lampMoveSchema = (timeZone: string, now: Date) =>
  z.object({
    tankId: chosen('Choose the tank.'),
    since: pastMoment(timeZone, now),
    racks,
    seen: text('what was seen', 4000),
  });

/** A setting from a time on, which is entered in the site's zone and is not ahead of `now`. */
export const settingSchema = (timeZone: string, now: Date) =>
  z
    .object({ percent, ...hours, at: pastMoment(timeZone, now), note: optionalText(200) })
    .refine(rampsFit.check, rampsFit.say);

export const removalSchema = z.object({ reason: text('why this setting is wrong') });

export type LampInput = z.output<ReturnType<typeof lampSchema>>;
export type LampMove = z.output<ReturnType<typeof lampMoveSchema>>;
export type LampEdit = z.output<typeof lampEditSchema>;
export type SettingInput = z.output<ReturnType<typeof settingSchema>>;
export type LampsEachInput = z.output<ReturnType<typeof lampsEachSchema>>;
