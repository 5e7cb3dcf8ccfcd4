import { numberWords, plural } from '../platform/words.ts';

/** One lot beneath lamps: its light now and after a turn (null: never surveyed), and how it bears a step. */
export interface LotBeneath {
  now: { par: number; dli: number } | null;
  after: { par: number; dli: number } | null;
  /** mol/(m2 d) */
  accustomed: number | null;
  stepRatio: number | null;
}

/** What turning lamps does, in sentences; `risk` when lots would be stepped further than their kind takes. */
export interface TurnEffect {
  sentences: string[];
  risk: string | null;
}

type Lit = LotBeneath & { now: { par: number; dli: number }; after: { par: number; dli: number } };

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

function riskWords(lit: readonly Lit[], percent: number): string | null {
  const known = lit.flatMap(({ after, accustomed, stepRatio }) =>
    accustomed === null || stepRatio === null || after.dli === 0
      ? []
      : [{ dli: after.dli, most: accustomed * stepRatio }],
  );
  const over = known.filter(({ dli, most }) => dli > most * (1 + 1e-9));
  if (over.length === 0) return null;
  const safest = Math.floor(Math.min(...known.map(({ dli, most }) => (percent * most) / dli)) + 1e-9);
  const many = `For ${over.length} of them that is more in one step than their kind takes from what they are used to: risk of bleaching.`;
  return safest < 1
    ? many
    : `${many} With these hours, up to ${safest} % stays within the step of every lot.`;
}
