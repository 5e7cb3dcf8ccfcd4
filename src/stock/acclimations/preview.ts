import { dayCount, numberWords } from '../../platform/words/numbers.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { dailyWords } from '../light/words.ts';
import { stepsSeen } from './acclimations.ts';
import type { AcclimationDraft, DraftStep } from './draft-by-slots.ts';
import { gapWords, planLengthWords, timesWords } from './view.ts';

/** What would be planned, as the page shows it. */
export interface Preview {
  seen: string;
  /** "3 steps over 18 days". */
  length: string;
  pace: string;
  rows: {
    position: number;
    day: string;
    what: string;
    gap: string;
    par: string;
    daily: string;
    times: string;
  }[];
  gaps: number;
  notes: string[];
  several: boolean;
}

/** The draft in words, its days from the first one on. */
export function previewOf(draft: AcclimationDraft, startsOn: string): Preview {
  const { steps, pace } = draft;
  const positions = Math.max(...steps.map((step) => step.position));
  const perPar = perParOf(steps);
  return {
    seen: stepsSeen(draft),
    length: planLengthWords(positions, draft.days),
    pace: `At most ${timesWords(pace.stepRatio)} what they are then used to, ${dayCount(pace.dwellDays)} apart or more.`,
    rows: steps.map((step) => rowOf(step, startsOn, perPar)),
    gaps: steps.filter((step) => step.gap !== null).length,
    notes: draft.notes,
    several: draft.lots.length > 1,
  };
}

/** Daily light, mol/(m2 d), for each umol/(m2 s) over ten hours at full light: common practice, where no place tells. */
const USUAL_PER_PAR = (10 * 3600) / 1e6;

/** Daily light for each umol/(m2 s) of the places found, to say a gap in PAR. */
function perParOf(steps: readonly DraftStep[]): number {
  const lit = steps.find((step) => step.par !== null && step.par > 0);
  return lit === undefined || lit.par === null ? USUAL_PER_PAR : lit.dli / lit.par;
}

function rowOf(step: DraftStep, startsOn: string, perPar: number): Preview['rows'][number] {
  const move = step.code === '' ? step.place : `${step.code} to ${step.place}`;
  return {
    position: step.position,
    day: daysAfter(new Date(startsOn), step.day).toISOString().slice(0, 10),
    what: step.gap === null ? move : step.code,
    gap:
      step.gap === null
        ? ''
        : gapWords(step.gap, step.gap.next === null ? perPar : step.gap.next.dli / step.gap.next.par),
    par: numberWords(Math.round(step.par ?? step.dli / perPar)),
    daily: dailyWords(step.dli),
    times: step.times === null ? '' : timesWords(step.times),
  };
}
