import { z } from 'zod';
import { day, id, moment } from '../../platform/door/answer-parts.ts';
import { nextCursor } from '../../platform/door/pages.ts';
import { startField } from '../../platform/plans/plans.schema.ts';
import { scales } from '../../platform/units/scales.ts';
import { optionalOnScale, optionalVolume } from '../../platform/web/fields/measures.ts';
import { choice, number, optionalNumber, optionalText } from '../../platform/web/fields.ts';
import { inputNumber } from '../../platform/words/numbers.ts';
import { convert, convertDifference } from '../../science/units.ts';
import {
  type Correctable,
  caps,
  type MeansCode,
  meansFor,
  type StatedAmounts,
} from '../dosing/substances.rules.ts';
import { likelyIntended } from '../entry/entry.rules.ts';
import { farmValue, type Quantity, sayDifference, unitName } from '../quantities/quantities.ts';
import type { CorrectionRequest } from './draft.ts';

/** What a form or a request says of a correction, beside the quantity and the system. */
export interface CorrectionForm extends CorrectionRequest {
  reason: string;
  capReason: string;
}

/** What is taken where nobody says another (common practice: the room). */
export const usualLimewaterDegC = 25;

/** A wish in the farm's units, made canonical. Fields that its means needs and are missing are named one by one. */
export function correctionRequestSchema(quantity: Quantity & { code: Correctable }, today: string) {
  const { code, canonicalUnit, displayUnit } = quantity;
  const ends = [quantity.possibleLow, quantity.possibleHigh].map((end) => farmValue(quantity, end).value);
  const range = {
    low: Math.round(Math.min(...ends)),
    high: Math.round(Math.max(...ends)),
    meant: (value: number) => likelyIntended(quantity, { value, unit: displayUnit }, null),
  };
  const level = (value: number) => convert(code, value, displayUnit, canonicalUnit);
  const middle = (quantity.plausibleLow + quantity.plausibleHigh) / 2;
  const difference = (value: number) => convertDifference(code, value, displayUnit, canonicalUnit, middle);
  // Twice what is planned at all: what is less than that gets the planner's own answer.
  const twiceMost = convertDifference(code, caps[code].most * 2, canonicalUnit, displayUnit, middle);
  const most = Number(inputNumber(twiceMost, quantity.decimals));
  const codes = meansFor[code] as unknown as readonly [MeansCode, ...MeansCode[]];
  return z
    .object({
      means: choice(codes, 'Choose what to correct it with.'),
      target: number({ what: 'the target', ...range, unit: unitName(code, displayUnit) }),
      dailyCap: optionalNumber({ what: 'the most a day', low: 1e-6, high: most }),
      capReason: optionalText(300),
      startsOn: startField(today),
      reason: optionalText(300),
      purity: optionalNumber({ what: 'the purity', low: 50, high: 100, unit: '%' }),
      solutionName: optionalText(80),
      solutionDose: optionalNumber({ what: 'the dose on the label', low: 1e-3, high: 1e6, unit: 'mL' }),
      solutionPer: optionalVolume({ what: 'the volume on the label', low: 1e-3, high: 1e7 }),
      solutionRise: optionalNumber({ what: 'the rise on the label', low: 1e-6, high: 1e5 }),
      evaporation: optionalVolume({ what: 'the evaporation of a day', low: 0.01, high: 1e5 }),
      limeTemperature: optionalOnScale(
        { what: 'the temperature of the limewater', low: 5, high: 40 },
        scales.degC,
      ),
      makeUp: optionalNumber({
        what: 'the level of the new water',
        ...range,
        unit: unitName(code, displayUnit),
      }),
    })
    .superRefine((typed, context) => {
      for (const [field, message] of missingOf(typed))
        context.addIssue({ code: 'custom', path: [field], message });
    })
    .transform(
      (typed): CorrectionForm => ({
        means: typed.means,
        target: level(typed.target),
        dailyCap: typed.dailyCap === null ? caps[code].usual : difference(typed.dailyCap),
        capReason: typed.capReason,
        startsOn: typed.startsOn,
        reason: typed.reason,
        stated: statedOf(typed, level, difference),
      }),
    );
}

interface Fields {
  means: MeansCode;
  purity: number | null;
  solutionName: string;
  solutionDose: number | null;
  solutionPer: number | null;
  solutionRise: number | null;
  evaporation: number | null;
  limeTemperature: number | null;
  makeUp: number | null;
}

function missingOf(typed: Fields): [string, string][] {
  const missing = (field: keyof Fields, message: string): [string, string][] =>
    typed[field] === null ? [[field, message]] : [];
  if (typed.means === 'exchange') return missing('makeUp', 'Enter the level of the new water.');
  if (typed.means === 'saturated-limewater')
    return missing('evaporation', 'Enter how much evaporates in a day: limewater may only replace that.');
  if (typed.means !== 'solution') return [];
  return [
    ...missing('solutionDose', 'Enter how many millilitres the label names.'),
    ...missing('solutionPer', 'Enter for how much water.'),
    ...missing('solutionRise', 'Enter by how much that raises it.'),
  ];
}

function statedOf(
  typed: Fields,
  level: (value: number) => number,
  difference: (value: number) => number,
): StatedAmounts {
  const { means, solutionDose, solutionPer, solutionRise } = typed;
  const solution =
    means !== 'solution' || solutionDose === null || solutionPer === null || solutionRise === null
      ? null
      : {
          doseMl: solutionDose,
          volumeL: solutionPer,
          rise: difference(solutionRise),
          name: typed.solutionName === '' ? 'the solution' : typed.solutionName,
        };
  const limewater =
    means !== 'saturated-limewater' || typed.evaporation === null
      ? null
      : {
          temperatureDegC: typed.limeTemperature ?? usualLimewaterDegC,
          evaporationLPerDay: typed.evaporation,
        };
  const dry = means !== 'solution' && means !== 'exchange' && means !== 'saturated-limewater';
  return {
    purity: dry ? (typed.purity ?? 100) / 100 : null,
    solution,
    limewater,
    makeUp: means === 'exchange' && typed.makeUp !== null ? level(typed.makeUp) : null,
  };
}

/** "1.0 dKH a day", the usual most of a quantity. */
export const usualCapWords = (quantity: Quantity & { code: Correctable }): string =>
  `${sayDifference(quantity, caps[quantity.code].usual, quantity.plausibleLow)} a day`;

/** "8.3", the middle of what the system keeps as it stands in an input, or nothing to propose. */
export function targetProposed(quantity: Quantity, low: number | null, high: number | null): string {
  if (low === null || high === null) return '';
  return inputNumber(farmValue(quantity, (low + high) / 2).value, quantity.decimals);
}

/** A correction: from where to where, its steps, the next one, and what holds it back. */
export const correctionAnswer = z.object({
  quantityCode: z.string(),
  unit: z.string(),
  running: z.boolean(),
  next: z
    .object({
      id,
      dueOn: day,
    })
    .nullable(),
  held: z
    .object({
      todo: z.enum(['test', 'revise', 'wait']),
      words: z.string(),
    })
    .nullable(),
  systemId: id,
  systemName: z.string(),
  means: z.string(),
  basis: z.object({
    means: z.string(),
    purity: z.number().nullable(),
    solution: z
      .object({
        doseMl: z.number(),
        volumeL: z.number(),
        rise: z.number(),
        name: z.string(),
      })
      .nullable(),
    limewater: z
      .object({
        temperatureDegC: z.number(),
        evaporationLPerDay: z.number(),
      })
      .nullable(),
    makeUp: z.number().nullable(),
    fromAt: moment,
    fromU: z.number(),
    relativeU: z.number(),
    drift: z
      .object({
        perDay: z.number(),
        sd: z.number(),
      })
      .nullable(),
    broke: z.boolean(),
    leftOut: z.number().nullable(),
    usualPerDay: z.number(),
    changes: z.array(z.number()),
    afterU: z.array(z.number()),
  }),
  reading: z.object({
    id,
    at: moment,
    value: z.number(),
  }),
  target: z.number(),
  dailyCap: z.number(),
  capSource: z.string(),
  volumeL: z.number(),
  reason: z.string(),
  startsOn: day,
  by: z.string().nullable(),
  finishedAt: moment.nullable(),
  stoppedAt: moment.nullable(),
  stopReason: z.string().nullable(),
  revisesId: id.nullable(),
  revisedById: id.nullable(),
  steps: z.array(
    z.object({
      dueOn: day,
      afterHours: z.number().nullable(),
      amount: z.number(),
      unit: z.enum(['g', 'mL', 'L']),
      change: z.number(),
      expectedAfter: z.number(),
      expectedU: z.number(),
      retest: z.boolean(),
      doneBy: z.string().nullable(),
      voided: z.boolean(),
      note: z.string(),
      id,
      position: z.number(),
      doneAt: moment.nullable(),
      leftOutAt: moment.nullable(),
    }),
  ),
  id,
  createdAt: moment,
  version: z.number(),
});

export const correctionsAnswer = z.object({ corrections: z.array(correctionAnswer), next: nextCursor });

/** A step as it was done. */
export const recordedAnswer = z.object({
  correctionId: id,
  systemId: id,
  feedingId: z.null(),
  what: z.string(),
});
