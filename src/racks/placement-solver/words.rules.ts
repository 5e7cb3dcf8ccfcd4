import { flowWords } from '../../farm/racks/words.ts';
import { mmWords } from '../../platform/units/measures.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { LIMITS, type Limit, limitsIn, type PlanLot, type PlanSlot } from './slot-fit.rules.ts';

const FLOWS = ['still', 'low', 'medium', 'high'] as const;
const flowName = (flow: number | null) => (flow === null ? 'unknown' : flowWords[FLOWS[flow] ?? 'high']);
const par = (value: number) => numberWords(Math.round(value));
const UNIT = 'µmol/(m² s)';

/** "low to medium". */
export function flowsWords({ flowLow, flowHigh }: PlanLot['care']): string {
  const [low, high] = [flowLow ?? 0, flowHigh ?? 3];
  return low === high ? flowName(low) : `${flowName(low)} to ${flowName(high)}`;
}

/** What a step of light starts from: "the daily light it is used to", or only what was measured so far. */
export const dailyLightOf = ({ isAccustomed }: PlanLot['care']): string =>
  isAccustomed
    ? 'the daily light it is used to'
    : 'the daily light measured for it so far (what it is used to is not known yet)';

/** The limits that a lot breaks in a slot, a sentence each. */
export function brokenLimitWords(
  mask: number,
  lot: PlanLot,
  slot: PlanSlot,
  neighbours: readonly string[],
): string[] {
  return limitsIn(mask).map((limit) => sentences[limit](lot, slot, neighbours));
}

type Sentence = (lot: PlanLot, slot: PlanSlot, neighbours: readonly string[]) => string;

const sentences: Record<Limit, Sentence> = {
  unmeasured: () => 'The light there was never measured.',
  ceiling: ({ care }, { light }) =>
    `${par(light?.par ?? 0)} ${UNIT} is above ${par(care.parCeiling ?? 0)}, the most its kind can take.`,
  step: ({ care }, { light }) =>
    `It gets ${numberWords(Number(((light?.dli ?? 0) / (care.accustomed ?? 1)).toPrecision(3)))} times ${dailyLightOf(care)}; its kind takes ${numberWords(care.stepRatio ?? 1)} times in one step.`,
  dim: ({ care }, { light }) =>
    `${par(light?.par ?? 0)} ${UNIT} is far below the ${par(care.parLow ?? 0)} its kind is kept at.`,
  flow: ({ care }, { flow }) => `The flow is ${flowName(flow)}; its kind is kept in ${flowsWords(care)}.`,
  jet: ({ care }) => `A jet strikes there; its kind: ${care.jet ?? 'no jet'}.`,
  base: ({ care }) => `The base does not suit it. ${care.base ?? ''}`.trim(),
  quarantine: ({ quarantine }) =>
    quarantine ? 'It is kept apart, and that is not a quarantine tank.' : 'That is a quarantine tank.',
  size: ({ sizeMm }) => `A piece of ${mmWords(sizeMm ?? 0)} is too large for it.`,
  emptied: () => 'This rack is being emptied.',
  reach: (_, __, neighbours) => `In reach of ${neighbours.join(', ')}.`,
};

/** The light and flow of a new slot beside the present one: "Light from 142 to 84 µmol/(m² s), medium flow." */
export function slotChangeWords(from: PlanSlot | null, to: PlanSlot): string {
  const before = from?.light ?? null;
  const light =
    to.light === null
      ? ''
      : before === null
        ? `Light ${par(to.light.par)} ${UNIT}, `
        : `Light from ${par(before.par)} to ${par(to.light.par)} ${UNIT}, `;
  const flow = `${flowName(to.flow)} flow${to.jet ? ', a jet strikes it' : ''}`;
  return from !== null && from.systemId !== to.systemId
    ? `${light}${flow}. Another water: compare its salinity and temperature first.`
    : `${light}${flow}.`;
}

/** True when this limit and no other is broken. */
export const breaksOnly = (mask: number, limit: Limit) => mask === LIMITS[limit];
