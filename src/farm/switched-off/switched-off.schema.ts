import { z } from 'zod';
import type { OffThing } from '../../generated/prisma/client.ts';
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
/** For how long it is off; empty: the usual time of its kind. */
export const offMinutes = optionalNumber({
  what: 'for how many minutes',
  low: 1,
  high: longest,
  unit: 'minutes',
}).transform((value) => (value === null ? null : Math.round(value)));

/** What is put off for now, from a form with one button for each thing. */
export const switchOffSchema = z
  .object({
    systemId: chosen('Choose the system.'),
    tankId: optionalChosen(),
    pick: text('what is off', 60),
    what: optionalText(100),
    why: text('why it is off', 200),
    minutes: offMinutes,
    onReturn: optionalText(300),
    watcher: optionalText(200),
  })
  .transform(({ pick, ...rest }, context) => {
    const picked = pickedOff(pick);
    if (picked !== null) return { ...rest, ...picked };
    context.addIssue({ code: 'custom', path: ['pick'], message: 'Choose what is off.' });
    return z.NEVER;
  });

/** What a button of the form stands for: "equipment:<id>" or "thing:<code>"; null where it stands for nothing. */
export function pickedOff(pick: string): { equipmentId: string | null; thing: OffThing | null } | null {
  const [kind, value = ''] = pick.split(':');
  if (kind === 'equipment' && z.uuid().safeParse(value).success) return { equipmentId: value, thing: null };
  const thing = thingCodes.find((code) => kind === 'thing' && code === value);
  return thing === undefined ? null : { equipmentId: null, thing };
}

/** What was seen of it on return. Optional, since the tap itself says that it runs. */
export const runningSchema = z.object({ seen: optionalText(300) });

/** That it was noted by mistake. */
export const offVoidSchema = z.object({ reason: text('what was wrong', 300) });

/** Another end than was said. */
export const longerSchema = z.object({
  minutes: whole({ what: 'for how many more minutes', low: 1, high: longest, unit: 'minutes' }),
  why: text('why it stays off', 200),
  watcher: optionalText(200),
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
