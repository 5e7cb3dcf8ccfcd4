import { flowLevel } from '../../farm/racks/flow.rules.ts';
import { flowText, flowWords } from '../../farm/racks/words.ts';
import type { Flow } from '../../generated/prisma/enums.ts';
import { lowered } from '../../platform/words/capitals.ts';
import { dayCount, numberWords, plural } from '../../platform/words/numbers.ts';
import { leastSteps, paceBy } from '../light/pace.rules.ts';
import type { LotPlaceCare, PlaceCare } from '../light/place-care.ts';
import type { SlotLightNow } from './occupancy.ts';

/** Light and flow at a slot. */
export interface SlotConditions {
  light: SlotLightNow | null;
  flow: Flow | null;
  jet: boolean;
}

/** What a move changes for a lot: plain statements, and risks. */
export interface MoveEffect {
  statements: string[];
  risks: string[];
  /** True where the lot can go there after all, by an acclimation in steps of light. */
  inSteps: boolean;
}

const FLOWS: readonly Flow[] = ['still', 'low', 'medium', 'high'];
const par = (value: number) => numberWords(Math.round(value));
const ratioWords = (ratio: number) => numberWords(Number(ratio.toPrecision(2)));
/** A step counts as too large only past this margin, so that rounding never makes a risk. */
const ROUNDING_MARGIN = 1.005;

/** Daily light of a slot divided by the daily light the lot is used to; null where either is not known. */
export function dailyLightRatio(light: SlotLightNow | null, accustomed: number | null): number | null {
  return light?.dli == null || accustomed === null || accustomed === 0 ? null : light.dli / accustomed;
}

/** What moving a lot from its present slot (null: none) to another means for it. */
export function moveEffect(from: SlotConditions | null, to: SlotConditions, needs: LotPlaceCare): MoveEffect {
  const parts = [lightEffect(from, to, needs), flowEffect(from, to, needs), baseEffect(needs)];
  return {
    statements: parts.flatMap((part) => part.statements),
    risks: parts.flatMap((part) => part.risks),
    inSteps: parts.some((part) => part.inSteps),
  };
}

function lightEffect(
  from: SlotConditions | null,
  { light }: SlotConditions,
  needs: LotPlaceCare,
): MoveEffect {
  if (light === null)
    return {
      statements: ['The light there was never measured, so it is not known.'],
      risks: [],
      inSteps: false,
    };
  const before = from?.light ?? null;
  const step = dailyLightRatio(light, needs.accustomed);
  const change =
    before === null ? `Light: ${par(light.par)}` : `Light: from ${par(before.par)} to ${par(light.par)}`;
  const used =
    step === null
      ? 'What it is used to is not known.'
      : needs.isAccustomed
        ? `That is ${ratioWords(step)} times the daily light it is used to.`
        : `That is ${ratioWords(step)} times the daily light measured for it so far; what it is used to is not known yet.`;
  const scaled = light.estimated
    ? ['The light there is scaled to the lamps’ setting and should be measured again.']
    : [];
  const tooBright = needs.parCeiling !== null && light.par > needs.parCeiling;
  return {
    statements: [`${change} µmol/(m² s). ${used}`, ...scaled],
    risks: lightRisks(light, step, needs),
    inSteps: isLargeStep(step, needs) && !tooBright,
  };
}

const isLargeStep = (step: number | null, { stepRatio }: PlaceCare) =>
  step !== null && stepRatio !== null && step > stepRatio * ROUNDING_MARGIN;

function lightRisks(light: SlotLightNow, step: number | null, care: PlaceCare): string[] {
  const { stepRatio, parCeiling, parLow } = care;
  const risks: string[] = [];
  if (step !== null && stepRatio !== null && isLargeStep(step, care))
    risks.push(
      `Its kind takes ${numberWords(stepRatio)} times in one step: risk of bleaching. ${stepsWords(step, care)}, or choose a dimmer slot.`,
    );
  if (parCeiling !== null && light.par > parCeiling)
    risks.push(`${par(light.par)} is above ${par(parCeiling)}, the most its kind can take.`);
  if (parLow !== null && light.par < parLow)
    risks.push(`${par(light.par)} is less than the ${par(parLow)} its kind is kept at.`);
  return risks;
}

/** In how many steps and days it can go to `step` times what it is used to: as a plan of them reckons, at the least. */
function stepsWords(step: number, care: PlaceCare): string {
  const least = leastSteps(step, paceBy(care));
  return least === null
    ? 'Go there in steps'
    : `Go there by an acclimation of at least ${plural(least.steps, 'step', 'steps')} over ${dayCount(least.days)}`;
}

function flowEffect(from: SlotConditions | null, to: SlotConditions, care: PlaceCare): MoveEffect {
  const change =
    from === null || from.flow === to.flow
      ? `Flow: ${flowText(to.flow)}`
      : `Flow: from ${flowText(from.flow)} to ${flowText(to.flow)}`;
  const jet = to.jet ? ', and a jet strikes the slot' : '';
  const risks: string[] = [];
  const level = flowLevel(to.flow);
  if (
    level !== null &&
    care.flowLow !== null &&
    care.flowHigh !== null &&
    (level < care.flowLow || level > care.flowHigh)
  )
    risks.push(`Its kind is kept in ${flowRange(care.flowLow, care.flowHigh)} flow.`);
  if (to.jet && care.jet !== null && care.jet !== 'tolerated')
    risks.push(`A jet strikes there. Its kind: ${care.jet}.`);
  return { statements: [`${change}${jet}.`], risks, inSteps: false };
}

function flowRange(low: number, high: number): string {
  const [from, to] = [FLOWS[low] ?? 'still', FLOWS[high] ?? 'high'];
  return from === to ? flowWords[from] : `${flowWords[from]} to ${flowWords[to]}`;
}

const baseEffect = ({ base }: PlaceCare): MoveEffect => ({
  statements: base === null ? [] : [`Its kind is kept on: ${lowered(base)}`],
  risks: [],
  inSteps: false,
});

/** True when a free slot suits a lot: its light is known, and nothing there is a risk. */
export function suitsLot(to: SlotConditions, needs: LotPlaceCare): boolean {
  return to.light !== null && moveEffect(null, to, needs).risks.length === 0;
}
