import { z } from 'zod';
import {
  choice,
  chosen,
  optionalChosen,
  optionalNumber,
  optionalText,
  text,
  whole,
} from '../../platform/web/fields.ts';
import { LONGEST_OFF_MIN, thingCodes } from './things.rules.ts';

const longest = LONGEST_OFF_MIN;
const minutes = optionalNumber({
  what: 'for how many minutes',
  low: 1,
  high: longest,
  unit: 'minutes',
}).transform((value) => (value === null ? null : Math.round(value)));

/** "equipment:<id>" or "thing:<code>", as the buttons of the form send it. */
const pick = z
  .string({ error: 'Choose what is off.' })
  .regex(/^(equipment:[0-9a-f-]{36}|thing:[a-z_]+)$/, 'Choose what is off.');

/** What is put off for now, from a form with one button for each thing. */
export const switchOffSchema = z
  .object({
    systemId: chosen('Choose the system.'),
    tankId: optionalChosen(),
    pick,
    what: optionalText(100),
    why: text('why it is off', 200),
    minutes,
    onReturn: optionalText(300),
  })
  .transform(({ pick, ...rest }, context) => {
    const [kind, value = ''] = pick.split(':');
    if (kind === 'equipment') return { ...rest, equipmentId: value, thing: null };
    const thing = thingCodes.find((code) => code === value);
    if (thing !== undefined) return { ...rest, equipmentId: null, thing };
    context.addIssue({ code: 'custom', path: ['pick'], message: 'Choose what is off.' });
    return z.NEVER;
  });

/** What was seen of it on return; it may stay empty, since the tap itself says that it runs. */
export const runningSchema = z.object({ seen: optionalText(300) });

/** Another end than was said. */
export const longerSchema = z.object({
  minutes: whole({ what: 'for how many more minutes', low: 1, high: longest, unit: 'minutes' }),
  why: text('why it stays off', 200),
});

/** To whom it is handed over. */
export const offerSchema = z.object({ toId: chosen('Choose who takes it over.') });

/** The farm's own times of a thing. */
export const timesSchema = z
  .object({
    thing: choice(thingCodes, 'Choose the thing.'),
    dueMin: whole({ what: 'when it is due back', low: 1, high: longest, unit: 'minutes' }),
    lateMin: whole({ what: 'when it is late', low: 1, high: longest + 1440, unit: 'minutes' }),
    reason: text('why', 200),
  })
  .refine(({ dueMin, lateMin }) => lateMin >= dueMin, {
    path: ['lateMin'],
    message: 'It cannot be late before it is due. Enter a longer time.',
  });
