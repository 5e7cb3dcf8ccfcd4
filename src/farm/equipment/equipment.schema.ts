import { z } from 'zod';
import { optionalLength, optionalVolume, volume } from '../../platform/web/fields/measures.ts';
import {
  choice,
  chosen,
  optionalChosen,
  optionalNumber,
  optionalText,
  text,
  tick,
  version,
} from '../../platform/web/fields.ts';
import { addedKinds } from './kinds.rules.ts';

const days = (what: string) => optionalNumber({ what, low: 1, high: 3650, unit: 'days' });
const litres = (what: string, low = 0.01) => optionalVolume({ what, low, high: 1e6 });

const fields = {
  name: text('a name', 60),
  tankId: optionalChosen(),
  circuitId: optionalChosen(),
  partOfId: optionalChosen(),
  leftMm: optionalLength('the distance from the left', 0, 5000),
  backMm: optionalLength('the distance from the back', 0, 5000),
  depthMm: optionalLength('the depth', 0, 1000),
  facingDeg: optionalNumber({ what: 'the direction', low: 0, high: 359, unit: 'degrees' }),
  runs: optionalText(200),
  setpoint: optionalNumber({ what: 'the setpoint', low: -1e6, high: 1e6 }),
  setpointUnit: optionalText(20),
  reservoirL: litres('what the container holds'),
  useLPerDay: litres('what one day uses', 0.001),
  holds: optionalText(200),
  strengthCode: optionalText(60).transform((code) => (code === '' ? null : code)),
  strength: optionalNumber({ what: 'the strength', low: 1e-6, high: 1e7 }),
  serviceEveryDays: days('how often it is serviced'),
  testEveryDays: days('how often it is tested'),
  note: optionalText(),
};

type Fields = z.output<z.ZodObject<typeof fields>>;

const pairs: { holds: (value: Fields) => boolean; path: string; message: string }[] = [
  {
    holds: ({ leftMm, backMm }) => (leftMm === null) === (backMm === null),
    path: 'leftMm',
    message: 'Enter both distances, from the left and from the back, or neither.',
  },
  {
    holds: ({ setpoint, setpointUnit }) => setpoint === null || setpointUnit !== '',
    path: 'setpointUnit',
    message: 'Enter the unit of the setpoint.',
  },
  {
    holds: ({ strength, strengthCode }) => (strength === null) === (strengthCode === null),
    path: 'strength',
    message: 'Enter both, how much the solution holds and of what, or neither.',
  },
  {
    holds: ({ leftMm, tankId }) => leftMm === null || tankId !== null,
    path: 'tankId',
    message: 'Choose the tank in which it has this place.',
  },
];

const paired = (value: Fields, context: z.RefinementCtx) => {
  for (const { holds, path, message } of pairs)
    if (!holds(value)) context.addIssue({ code: 'custom', path: [path], message });
};

/** New equipment, as its form or JSON brings it. */
export const equipmentSchema = z
  .object({
    ...fields,
    systemId: chosen('Choose the system it belongs to.'),
    kind: choice(addedKinds, 'Choose what kind of equipment it is.'),
  })
  .superRefine(paired);

/** Changed equipment. Lamps keep the name and the tank that their own page gives them. */
export const equipmentEditSchema = z
  .object({ ...fields, name: optionalText(60), removed: tick(), version: version() })
  .superRefine(paired);

/** A container that was filled: how much is in it now. */
export const fillingSchema = z.object({
  filledL: volume({ what: 'how much is in it now', low: 0, high: 1e6 }),
});

/** A service or a test that was done. */
export const upkeepSchema = z.object({
  work: choice(['service', 'test'], 'Choose what was done.'),
  note: optionalText(500),
});

/** What was seen of equipment that runs. */
export const seenSchema = z.object({ seen: optionalText(300) });

export type EquipmentInput = z.output<typeof equipmentSchema>;
export type EquipmentEdit = z.output<typeof equipmentEditSchema>;
