import { numberWords, plural } from '../../platform/words/numbers.ts';

/** The light of a lot: the mean and the brightest of its slots, umol/(m2 s), and a day, mol/(m2 d). */
export interface LotsLight {
  par: number;
  parMax: number;
  dli: number;
}

/** One lot beneath lamps: its light now and after a turn (null: never surveyed), and how it bears it. */
export interface LotBeneath {
  now: LotsLight | null;
  after: LotsLight | null;
  /** mol/(m2 d) */
  accustomed: number | null;
  stepRatio: number | null;
  /** What its kind bears at all, umol/(m2 s). */
  parCeiling: number | null;
}

/** What turning lamps does, in sentences; `risk` when lots would be stepped further than their kind takes. */
export interface TurnEffect {
  sentences: string[];
  risk: string | null;
}

type Lit = LotBeneath & { now: LotsLight; after: LotsLight };

const isLit = (lot: LotBeneath): lot is Lit => lot.now !== null && lot.after !== null;
const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
const par = (value: number) => numberWords(Math.round(value));

/** "1.19 times", never more exact than it is known. */
export const times = (ratio: number): string => `${numberWords(Number(ratio.toPrecision(3)))} times`;

/** What a new setting does to the lots beneath, from the light they have now. */
export function turnEffect(lots: readonly LotBeneath[], percent: number): TurnEffect {
  if (lots.length === 0) return { sentences: ['No lots stand beneath these lamps.'], risk: null };
  const lit = lots.filter(isLit);
  const dark = lots.length - lit.length;
  const unknown =
    dark === 0
      ? []
      : [
          `${plural(dark, 'lot stands', 'lots stand')} where light was never measured: nothing can be said of ${dark === 1 ? 'it' : 'them'}.`,
        ];
  const change = lit.length === 0 ? [] : [changeWords(lit), rangeWords(lit)];
  return { sentences: [...change, ...unknown], risk: riskWords(lit, percent) };
}

function changeWords(lit: readonly Lit[]): string {
  const lots = plural(lit.length, 'lot beneath gets', 'lots beneath get');
  const ratios = lit.map(({ now, after }) => after.dli / now.dli);
  const [low, high] = [Math.min(...ratios), Math.max(...ratios)];
  if (lit.some(({ now }) => now.dli === 0)) return `${lots} light where there is none now.`;
  const same = high - low < 0.005;
  if (same && Math.abs(high - 1) < 0.005) return `${lots} the same daily light as now.`;
  return `${lots} ${same ? times(high) : `${numberWords(Number(low.toPrecision(3)))} to ${times(high)}`} the daily light ${lit.length === 1 ? 'it has' : 'they have'} now.`;
}

function rangeWords(lit: readonly Lit[]): string {
  const brightest = lit.reduce((a, b) => (b.after.par > a.after.par ? b : a));
  const [from, to] = [mean(lit.map(({ now }) => now.par)), mean(lit.map(({ after }) => after.par))];
  return `On average from ${par(from)} to ${par(to)} µmol/(m² s); the brightest from ${par(brightest.now.par)} to ${par(brightest.after.par)}.`;
}

/** True where a turn puts a lot further in one step than its kind takes from what it is used to. */
export const isOver = ({ after, accustomed, stepRatio }: LotBeneath): boolean =>
  after !== null &&
  accustomed !== null &&
  stepRatio !== null &&
  after.dli > accustomed * stepRatio * (1 + 1e-9);

/** The highest setting within every lot's step and ceiling, per cent; null where nothing bounds it. */
function safestOf(lit: readonly Lit[], percent: number): number | null {
  const bounds = lit.flatMap(({ after, accustomed, stepRatio, parCeiling }) => [
    ...(accustomed === null || stepRatio === null || after.dli === 0
      ? []
      : [(percent * accustomed * stepRatio) / after.dli]),
    ...(parCeiling === null || after.parMax === 0 ? [] : [(percent * parCeiling) / after.parMax]),
  ]);
  return bounds.length === 0 ? null : Math.floor(Math.min(...bounds) + 1e-9);
}

function riskWords(lit: readonly Lit[], percent: number): string | null {
  const over = lit.filter(isOver).length;
  const above = lit.filter(
    ({ after, parCeiling }) => parCeiling !== null && after.parMax > parCeiling,
  ).length;
  if (over + above === 0) return null;
  const step = `For ${over} of them that is more in one step than their kind takes from what they are used to: risk of bleaching.`;
  const ceiling = `${plural(above, 'lot gets', 'lots get')} more than ${above === 1 ? 'its kind bears' : 'their kinds bear'} at all.`;
  const safest = safestOf(lit, percent);
  return [
    ...(over === 0 ? [] : [step]),
    ...(above === 0 ? [] : [ceiling]),
    ...(safest === null || safest < 1
      ? []
      : [
          `With these hours, up to ${safest} % stays within ${above === 0 ? 'the step' : 'the step and the ceiling'} of every lot.`,
        ]),
  ].join(' ');
}
