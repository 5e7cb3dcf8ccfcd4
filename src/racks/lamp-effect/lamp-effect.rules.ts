import { numberWords, plural } from '../../platform/words/numbers.ts';

/** Light of a lot over its slots: the mean and the brightest of its slots, umol/(m2 s), and a day, mol/(m2 d). */
export interface MeanLight {
  par: number;
  parMax: number;
  dli: number;
}

/** A lot under lamps: its light now and at the new setting (null: never surveyed), and how much its kind tolerates. */
export interface LitLot {
  now: MeanLight | null;
  after: MeanLight | null;
  /** Daily light it is used to, mol/(m2 d). */
  accustomed: number | null;
  /** False where its light was not measured for long enough to be used to it; `accustomed` is then only what it had so far. */
  isAccustomed: boolean;
  /** Times its accustomed light that its kind takes in one step. */
  stepRatio: number | null;
  /** The most its kind tolerates at all, umol/(m2 s). */
  parCeiling: number | null;
}

/** What a new setting of lamps does, in sentences; `risk` when it is more than a lot's kind takes. */
export interface LampEffect {
  sentences: string[];
  risk: string | null;
}

type MeasuredLot = LitLot & { now: MeanLight; after: MeanLight };

const isMeasured = (lot: LitLot): lot is MeasuredLot => lot.now !== null && lot.after !== null;
const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
const par = (value: number) => numberWords(Math.round(value));

/** "1.19 times": three digits, since light is known to no more. */
export const timesText = (ratio: number): string => `${numberWords(Number(ratio.toPrecision(3)))} times`;

/** What a new setting (percent) of lamps does to all lots under them, compared with their light now. */
export function lampEffect(lots: readonly LitLot[], percent: number): LampEffect {
  if (lots.length === 0) return { sentences: ['No lots are under these lamps.'], risk: null };
  const measured = lots.filter(isMeasured);
  const unmeasured = lots.length - measured.length;
  const unknown =
    unmeasured === 0
      ? []
      : [
          `${plural(unmeasured, 'lot is', 'lots are')} where light was never measured: the effect on ${unmeasured === 1 ? 'it' : 'them'} is not known.`,
        ];
  const change = measured.length === 0 ? [] : [changeWords(measured), rangeWords(measured)];
  return { sentences: [...change, ...unknown], risk: riskWords(measured, percent) };
}

function changeWords(lit: readonly MeasuredLot[]): string {
  const lots = plural(lit.length, 'lot under them gets', 'lots under them get');
  const ratios = lit.map(({ now, after }) => after.dli / now.dli);
  const [low, high] = [Math.min(...ratios), Math.max(...ratios)];
  if (lit.some(({ now }) => now.dli === 0)) return `${lots} light where there is none now.`;
  const same = high - low < 0.005;
  if (same && Math.abs(high - 1) < 0.005) return `${lots} the same daily light as now.`;
  return `${lots} ${same ? timesText(high) : `${numberWords(Number(low.toPrecision(3)))} to ${timesText(high)}`} the daily light ${lit.length === 1 ? 'it has' : 'they have'} now.`;
}

function rangeWords(lit: readonly MeasuredLot[]): string {
  const brightest = lit.reduce((a, b) => (b.after.par > a.after.par ? b : a));
  const [from, to] = [mean(lit.map(({ now }) => now.par)), mean(lit.map(({ after }) => after.par))];
  return `On average from ${par(from)} to ${par(to)} µmol/(m² s); the brightest from ${par(brightest.now.par)} to ${par(brightest.after.par)}.`;
}

/** True when the new light is a larger step, from what the lot is used to, than its kind takes. */
export const exceedsStep = ({ after, accustomed, stepRatio }: LitLot): boolean =>
  after !== null &&
  accustomed !== null &&
  stepRatio !== null &&
  after.dli > accustomed * stepRatio * (1 + 1e-9);

/** The highest setting, whole per cent, within the step and the ceiling of every lot; null where no limit is known. */
function highestSafePercent(lit: readonly MeasuredLot[], percent: number): number | null {
  const limits = lit.flatMap(({ after, accustomed, stepRatio, parCeiling }) => [
    ...(accustomed === null || stepRatio === null || after.dli === 0
      ? []
      : [(percent * accustomed * stepRatio) / after.dli]),
    ...(parCeiling === null || after.parMax === 0 ? [] : [(percent * parCeiling) / after.parMax]),
  ]);
  return limits.length === 0 ? null : Math.floor(Math.min(...limits) + 1e-9);
}

function riskWords(lit: readonly MeasuredLot[], percent: number): string | null {
  const stepped = lit.filter(exceedsStep);
  const over = stepped.length;
  const before = stepped.every(({ isAccustomed }) => isAccustomed)
    ? 'what they are used to'
    : 'the light they had so far as it is known';
  const above = lit.filter(
    ({ after, parCeiling }) => parCeiling !== null && after.parMax > parCeiling,
  ).length;
  if (over + above === 0) return null;
  const step = `For ${over} of them that is more in one step than their kind takes from ${before}: risk of bleaching.`;
  const ceiling = `${plural(above, 'lot gets', 'lots get')} more than ${above === 1 ? 'its kind' : 'their kinds'} can ever take.`;
  const safePercent = highestSafePercent(lit, percent);
  return [
    ...(over === 0 ? [] : [step]),
    ...(above === 0 ? [] : [ceiling]),
    ...(safePercent === null || safePercent < 1
      ? []
      : [
          `With these hours, up to ${safePercent} % stays within ${above === 0 ? 'the step' : 'the step and the ceiling'} of every lot.`,
        ]),
  ].join(' ');
}
