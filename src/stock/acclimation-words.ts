import { numberWords } from '../platform/words.ts';
import type { Gap } from './acclimation-plan.rules.ts';
import type { Acclimation, StepState } from './acclimation-state.ts';

/** What a step does: "Move R46-TKR to Rack S2, A3", "Turn North bars to 72 %". */
export function stepTitle({
  code,
  place,
  lamp,
  percent,
}: Pick<StepState, 'code' | 'place' | 'lamp' | 'percent'>): string {
  if (lamp !== null) return `Turn ${lamp} to ${numberWords(percent ?? 0)} %`;
  return place === '' ? `Find a place for ${code}` : `Move ${code} to ${place}`;
}

/** "3 steps over 18 days", "1 step". */
export function lengthWords(positions: number, days: number): string {
  const steps = `${positions} ${positions === 1 ? 'step' : 'steps'}`;
  return days === 0 ? steps : `${steps} over ${numberWords(days)} ${days === 1 ? 'day' : 'days'}`;
}

/** "1.15 times". */
export const timesWords = (times: number): string => `${numberWords(Number(times.toPrecision(3)))} times`;

/** "No free place between 80 and 95 µmol/(m² s). Shade Rack S2, A7 (130) to 73 %, or turn the lamps." */
export function gapWords({ low, high, next }: Gap, perPar: number): string {
  const par = (dli: number) => numberWords(Math.round(dli / perPar));
  const range =
    low <= 0
      ? `up to ${par(high)}`
      : par(low) === par(high)
        ? `of about ${par(high)}`
        : `between ${par(low)} and ${par(high)}`;
  const where = `No free place ${range} µmol/(m² s).`;
  if (next === null) return `${where} Make one free, or turn the lamps.`;
  const share = Math.min(99, Math.floor((high / next.dli) * 100));
  const par1 = numberWords(Math.round(next.par));
  return next.dli > high
    ? `${where} Shade ${next.name} (${par1}) to ${share} % of its light, make a place free, or turn the lamps.`
    : `${where} The next is ${next.name} (${par1}). Make one free, or turn the lamps.`;
}

/** How an acclimation stands: "running, 2 of 5 steps done", "paused", "ended". */
export function statusWords({ steps, pausedAt, endedAt }: Acclimation): string {
  const done = steps.filter((step) => step.doneAt !== null).length;
  const count = `${done} of ${steps.length} ${steps.length === 1 ? 'step' : 'steps'} done`;
  if (endedAt !== null) return `ended, ${count}`;
  return `${pausedAt === null ? 'running' : 'paused'}, ${count}`;
}

/** What to heed before a step. */
export const cautionWords = (lamps: boolean): string =>
  lamps
    ? 'Turn them at their control, with dry hands; switch them off at the plug before anything else is done to them.'
    : 'Look at it first: if it is pale, note that instead of moving it.';
