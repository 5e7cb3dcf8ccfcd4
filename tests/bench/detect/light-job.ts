import { seededRandom } from '../../../src/science/statistics/random.ts';
import { type LampFact, type LotFact, unknownCare } from '../../../src/watch/facts/types.ts';
import { blankLot, blankSystem, dayZero, onDay } from '../../watch/facts.ts';
import { evaluating, ruleFor, type Tried } from './settings.ts';

/** Lots that were moved to more light at once, by what is surveyed of it. */
export interface LightJob {
  kind: 'light';
  /** True new light over the old, where the kind bears 1.5 times. */
  ratio: number;
  /** Relative error of each survey. */
  surveyError: number;
  lots: number;
  seed: number;
  tried: Tried;
}

export interface LightResult {
  kind: 'light';
  job: LightJob;
  /** Share of the lots for which an alert opens at the move. */
  found: number;
  /** Share of racks of lots for which one opens about the lamps that were turned up as much. */
  foundLamps: number;
}

const bears = 1.5;
const oldPar = 120;
const movedOn = 100;
const daily = (par: number) => par * 10 * 3600e-6;

/** Runs one job; the same job gives the same result on every machine. */
export function runLight(job: LightJob): LightResult {
  const evaluate = evaluating(ruleFor.light, job.tried);
  const found = Array.from({ length: job.lots }, (_, i) => {
    const random = seededRandom(job.seed + i);
    const survey = (par: number) => par * Math.max(0.1, 1 + job.surveyError * random.normal());
    const lot = movedLot(survey(oldPar), survey(oldPar * job.ratio), job.surveyError);
    return evaluate(blankSystem({ lots: [lot] }), dayZero + movedOn).some(({ status }) => status === 'fires');
  });
  return { kind: 'light', job, found: found.filter(Boolean).length / job.lots, foundLamps: lampsFound(job) };
}

const onRack = 8;
const halfLight = 50;

/** Racks whose lamps were turned up on the day, and surveyed slot by slot before and after. */
function lampsFound(job: LightJob): number {
  const evaluate = evaluating(ruleFor.light, job.tried);
  const racks = Math.ceil(job.lots / onRack);
  const found = Array.from({ length: racks }, (_, i) => {
    const random = seededRandom(job.seed + job.lots + i);
    const survey = (par: number) => par * Math.max(0.1, 1 + job.surveyError * random.normal());
    const lots = Array.from({ length: onRack }, () => ({
      ...movedLot(survey(oldPar), survey(oldPar * job.ratio), job.surveyError),
      placedDay: dayZero,
      lampId: lampsUp(job.ratio).id,
    }));
    return evaluate(blankSystem({ lots, lamps: [lampsUp(job.ratio)] }), dayZero + movedOn).some(
      ({ status, subject }) => status === 'fires' && subject.type === 'lamp',
    );
  });
  return found.filter(Boolean).length / racks;
}

function lampsUp(ratio: number): LampFact {
  const setting = (day: number, percent: number) => ({
    id: `setting ${day}`,
    day: dayZero + day,
    at: onDay(day).toISOString(),
    percent,
    note: '',
  });
  const settings = [setting(0, halfLight), setting(movedOn, halfLight * ratio)];
  return { id: 'lamps', name: 'Over the rack', tankName: 'Raceway', settings };
}

function movedLot(before: number, after: number, relativeError: number): LotFact {
  const piece = (fromDay: number, par: number) => ({
    fromDay: dayZero + fromDay,
    par,
    dli: daily(par),
    error: relativeError * par,
    estimated: false,
  });
  return blankLot({
    placedAt: onDay(movedOn).toISOString(),
    placedDay: dayZero + movedOn,
    light: [piece(0, before), piece(movedOn, after)],
    care: {
      ...unknownCare,
      stepRatio: { ratio: bears, source: 'made for the bench' },
      adaptationDays: { days: 10, source: 'made for the bench' },
    },
  });
}
