import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { momentOf } from '../../platform/days.ts';
import { capitalized } from '../../platform/words/capitals.ts';
import { andWords } from '../../platform/words/lists.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { dayOf } from '../../science/numeric/time.ts';
import { acuteAt, type ChosenBand } from '../acute/acute-states.rules.ts';
import {
  type Correctable,
  caps,
  type Means,
  type MeansCode,
  meansOf,
  type StatedAmounts,
} from '../dosing/substances.rules.ts';
import { isPlausible } from '../entry/entry.rules.ts';
import { figureOf, figureQuestion } from '../entry/figures.rules.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import { type Quantity, say, sayDifference, sayReading } from '../quantities/quantities.ts';
import type { WaterSystem } from '../systems/systems.ts';
import { disagreementWords } from '../trust/disagreements.ts';
import { type CorrectionDrift, readDrift } from './drift.ts';
import { levelAt } from './expected-level.rules.ts';
import { chemistryAfter } from './hold.rules.ts';
import { readChosenBand, readWaterNow } from './load.ts';
import { saturationOf, type WaterChemistry } from './saturation.rules.ts';
import { type CorrectionSchedule, planSchedule } from './schedule.rules.ts';
import { cautionsOf, type Effects, highestPh, phOf, sideEffects } from './side-effects.rules.ts';
import { type StartingReading, startingReading } from './starting-reading.rules.ts';

/** What a correction starts from: the newest reading and what it is worth, and what the water does by itself. */
export interface StartingPoint {
  system: WaterSystem;
  timeZone: string;
  quantity: Quantity & { code: Correctable };
  standing: StartingReading;
  /** What two sources that disagree about the level say; null where none do. */
  disagreement: string | null;
  drift: CorrectionDrift;
  water: WaterChemistry;
  /** The band of the quantity that somebody chose here. */
  band: ChosenBand;
}

/** What is request, in canonical units. */
export interface CorrectionRequest {
  means: MeansCode;
  stated: StatedAmounts;
  target: number;
  dailyCap: number;
  /** Local day of the first step, "2026-11-24". */
  startsOn: string;
}

export type CorrectionDraft =
  | {
      ok: true;
      means: Means;
      schedule: Extract<CorrectionSchedule, { ok: true }>;
      cautions: string[];
      effects: string[];
    }
  | { ok: false; refused: string; field: string };

/** Steps are reckoned from noon of their day, so that a draft is the same all day long. */
const noon = '12:00';

/** Reads what a correction of one quantity would start from. */
export async function readStartingPoint(
  reader: SqlReader,
  system: WaterSystem,
  timeZone: string,
  quantity: Quantity & { code: Correctable },
  now: Date,
): Promise<StartingPoint> {
  const { readings, suspectKits, disagreement, water } = await readWaterNow(
    reader,
    system.id,
    quantity.code,
    now,
  );
  const drift = await readDrift(reader, system, quantity, suspectKits, now);
  const standing = startingReading(readings, suspectKits, now);
  const band = await readChosenBand(reader, system.id, quantity.code);
  return { system, timeZone, quantity, standing, disagreement, drift, water, band };
}

/** What calcium stands or falls with: too much alkalinity drops it out, too little magnesium does not hold it, salt moves all of it. */
const besideCalcium = ['alkalinity', 'magnesium', 'salinity'] as const;

/** What must be tested before calcium is corrected; none for other quantities. Known are readings of the last seven days (own choice). */
const untested = ({ quantity, water }: Pick<StartingPoint, 'quantity' | 'water'>): string[] =>
  quantity.code === 'calcium' ? besideCalcium.filter((code) => water[code] === null) : [];

/** Why no correction can rest on the newest reading yet, and what to do; null when one can. */
export function whyNotYet(
  start: Pick<StartingPoint, 'standing' | 'quantity' | 'water' | 'disagreement'>,
): string | null {
  const { standing, quantity } = start;
  const name = nameInSentence(quantity.name);
  const missing = untested(start);
  if (start.disagreement !== null) return disagreementWords(quantity.name, start.disagreement);
  if (standing.kind === 'confirmed' && missing.length > 0)
    return `Test ${andWords(missing)} first: no trusted reading of the last seven days is there. Calcium that is raised beside too much alkalinity or too little magnesium drops out again, and where salinity is off the salt is put right first.`;
  if (standing.kind === 'confirmed') return null;
  if (standing.kind === 'none')
    return `There is no test of ${name} of the last two weeks. Test it, and once more to confirm it.`;
  const said = sayReading(quantity, standing.reading);
  const words = {
    unconfirmed: `${said} waits for a second reading. Test again: a correction starts from confirmed readings only.`,
    single: `${said} stands on one test of that day. Repeat the test now: a second reading of the day that agrees confirms it, and a correction can then be planned from it.`,
    suspect: `${said} was read with a kit that is named or suspected of reading wrong. Test with another kit or method; add nothing on this reading.`,
    old: `The newest reading, ${said}, is more than three days old. Test now, and once more to confirm it.`,
  };
  return words[standing.kind];
}

/** The schedule of a request with its cautions, or why there is none. */
export function draftCorrection(start: StartingPoint, request: CorrectionRequest): CorrectionDraft {
  const { quantity, standing, drift, system } = start;
  const blocked = whyNotYet(start);
  if (blocked !== null || standing.kind !== 'confirmed')
    return { ok: false, refused: blocked ?? '', field: 'reading' };
  const { reading } = standing;
  if (reading.below)
    return {
      ok: false,
      refused: 'A value below detection is not enough for a correction.',
      field: 'reading',
    };
  if (reading.above) {
    const refused =
      'A value beyond the scale cannot be corrected from. Dilute the sample, test again, and enter the dilution.';
    return { ok: false, refused, field: 'reading' };
  }
  const outside = outOfRange(quantity, request.target, reading.value);
  if (outside !== null) return { ok: false, refused: outside, field: 'target' };
  const means = tryMeans(request, quantity.code, system.volumeL);
  if ('refused' in means) return { ok: false, ...means };
  const acute = acuteAt(quantity.code, reading.value, start.band);
  const schedule = planSchedule({
    quantity: quantity.code,
    from: { day: dayOf(reading.at), value: reading.value, u: reading.uncertainty },
    target: request.target,
    dailyCap: request.dailyCap,
    volumeL: system.volumeL,
    means,
    drift: drift.counted,
    fast: acute?.rate ?? null,
    startDay: dayOf(momentOf(request.startsOn, noon, start.timeZone)),
  });
  if (!schedule.ok) return schedule;
  const effects = effectsOf(start, means, schedule);
  const unsafe = unsafeOf(start, request, effects);
  if (unsafe !== null) return { ok: false, ...unsafe };
  return {
    ok: true,
    means,
    schedule,
    cautions: cautionsOf(means.code),
    effects: sideEffects(effects),
  };
}

function tryMeans(
  { means, stated }: CorrectionRequest,
  code: Correctable,
  volumeL: number,
): Means | { refused: string; field: string } {
  try {
    return meansOf(means, code, stated, volumeL);
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    const refused = `${capitalized(error.message)}.`;
    return { refused, field: 'means' };
  }
}

/** Asked about as a band is; a target beyond the usual range is never taken. */
function outOfRange(quantity: Quantity, target: number, level: number): string | null {
  if (isPlausible(quantity, target)) return null;
  const figure = figureOf(quantity, 'the target', target);
  return `${figureQuestion(quantity, figure, { level, before: null }) ?? ''} Choose a target from ${say(quantity, quantity.plausibleLow)} to ${say(quantity, quantity.plausibleHigh)}: beyond that nothing is corrected here.`;
}

function effectsOf(
  { quantity, system, water }: StartingPoint,
  means: Means,
  schedule: Extract<CorrectionSchedule, { ok: true }>,
): Effects {
  const change = schedule.steps.reduce((sum, step) => sum + step.change, 0);
  return {
    code: means.code,
    quantity: quantity.code,
    volumeL: system.volumeL,
    grams: means.unit === 'g' ? schedule.total : null,
    change,
    largest: Math.max(0, ...schedule.steps.map((step) => step.change)),
    water,
  };
}

/** What chemistry forbids: too much together for the water to keep, or a pH that limewater may not be dripped into. */
function unsafeOf(
  { quantity, water }: StartingPoint,
  request: CorrectionRequest,
  effects: Effects,
): { refused: string; field: string } | null {
  const level = quantity.code === 'salinity' ? null : water[quantity.code];
  const after = chemistryAfter(water, quantity.code, level === null ? 0 : request.target - level);
  const found = after === null || effects.change <= 0 ? null : saturationOf(after);
  if (found?.passes) {
    const taken = found.assumed.length === 0 ? '' : ` (${found.assumed.join(' and ')} taken)`;
    return {
      field: 'target',
      refused: `At that target calcium, alkalinity and magnesium together pass what water keeps dissolved: aragonite saturation ${numberWords(found.omega, 1)}${taken}, bound ${numberWords(found.bound)} (Moras et al. 2022). Choose a lower target, or bring down what is high first.`,
    };
  }
  if (request.means !== 'saturated-limewater') return null;
  const ph = phOf(effects);
  if (ph === null)
    return {
      field: 'means',
      refused:
        'Limewater lifts the pH, and no pH was read in the last seven days. Test pH first, or choose bicarbonate.',
    };
  if (ph.parts <= 24) return null;
  return {
    field: 'means',
    refused: `At pH ${numberWords(ph.before, 2)} so much limewater a day would carry it past ${highestPh}. Choose bicarbonate, or less a day.`,
  };
}

/** When a level that is too high has come down by what the stock uses alone: days, or null where it does not fall. */
export function waitOf({ standing, drift, quantity }: StartingPoint, target: number): string | null {
  if (standing.kind !== 'confirmed' || target >= standing.reading.value) return null;
  const { reading } = standing;
  const perDay = drift.counted?.perDay ?? 0;
  if (perDay >= 0)
    return `Nothing that is added lowers ${nameInSentence(quantity.name)}, and by the log of the last weeks it does not fall by itself. Lower what is dosed daily, or exchange water.`;
  const days = Math.ceil((reading.value - target) / -perDay);
  const { u } = levelAt(
    {
      from: { day: 0, value: reading.value, u: reading.uncertainty },
      driftPerDay: perDay,
      driftSd: drift.counted?.sd ?? 0,
      relativeU: 0,
      saline: quantity.code === 'salinity',
      done: [],
    },
    days,
  );
  return `By itself it falls ${sayDifference(quantity, -perDay, target)} a day with what is dosed now: ${say(quantity, target)} ± ${sayDifference(quantity, u, target)} in about ${numberWords(days)} ${days === 1 ? 'day' : 'days'}. Waiting is the gentlest way; test every other day.`;
}

/** What the cap is and where it comes from, in words; the reason where it is above the usual one. */
export function capWords(
  quantity: Quantity & { code: Correctable },
  dailyCap: number,
  reason: string,
): string {
  const { usual, source } = caps[quantity.code];
  if (dailyCap <= usual * (1 + 1e-9) && dailyCap >= usual * (1 - 1e-9)) return source;
  const than = dailyCap < usual ? 'Less than' : 'More than';
  return `${than} the usual ${sayDifference(quantity, usual, quantity.plausibleLow)} a day. ${reason || 'Own choice.'} ${source}`;
}
