import { convert } from '../../science/units.ts';
import type { Quantity } from '../quantities/quantities.ts';

/** A band as it is proposed, canonical, with where it comes from. */
export interface StartingBand {
  quantityCode: string;
  low: number;
  high: number;
  source: string;
}

/** A band that some care asks for; either end may be open. */
interface AskedBand {
  readonly low: number | null;
  readonly high: number | null;
  readonly source: string;
}

/** The care of one kind that stands in the system or shall: bands by quantity code. */
export type KindBands = Readonly<Record<string, AskedBand>>;

type Ends = readonly [low: number, high: number];
const dkh = (low: number, high: number): Ends => [
  convert('alkalinity', low, 'dKH', 'meq/L'),
  convert('alkalinity', high, 'dKH', 'meq/L'),
];

/**
 * What any reef water starts from, canonical. Figures are common practice around natural seawater. Alkalinity: where the
 * published ranges overlap, since a span of 7 to 11 would let a level rise by a half unremarked.
 */
const general: Readonly<Record<string, { ends: Ends; source: string }>> = {
  alkalinity: {
    ends: dkh(7, 9),
    source:
      'common practice: where the ranges of articles (7-11 dKH) and of a test maker (6-9) overlap; warm surface seawater has 6.6 (Geophys. Res. Lett. 33, 2006)',
  },
  calcium: {
    ends: [380, 450],
    source:
      'common practice: chemistry article and a marine guide (1996); seawater of salinity 35 has about 420',
  },
  magnesium: {
    ends: [1250, 1350],
    source: 'common practice: chemistry article; seawater of salinity 35 has about 1,280 to 1,310',
  },
  nitrate: {
    ends: [1, 20],
    source:
      'common practice, low confidence: published targets differ a hundredfold; trouble from about 30-40',
  },
  phosphate: {
    ends: [0.02, 0.1],
    source:
      'common practice, low confidence: articles name 0.02-0.08; shortage with nitrogen present does harm',
  },
  salinity: { ends: [34, 36], source: 'common practice: chemistry article, 35 as in the open sea' },
  temperature: { ends: [24.4, 28.3], source: 'common practice: chemistry article, 76-83 °F' },
  ph: {
    ends: [7.8, 8.5],
    source: 'common practice: chemistry article, 7.8-8.5 acceptable, 8.1-8.3 preferred',
  },
};

/**
 * The bands a system starts with: those of any reef water, each narrowed to what the care of all its kinds has in common.
 * A kind that would leave nothing of a band does not count for it.
 * @param kinds none where nobody has said what stands or shall stand there
 */
export function startingBands(quantities: readonly Quantity[], kinds: readonly KindBands[]): StartingBand[] {
  return quantities.flatMap((quantity) => {
    const known = general[quantity.code];
    if (known === undefined) return [];
    const asked = kinds.map((care) => care[quantity.code]).filter((band) => band !== undefined);
    return [narrowed(quantity, known, asked)];
  });
}

function narrowed(
  quantity: Quantity,
  { ends, source }: { ends: Ends; source: string },
  asked: readonly AskedBand[],
): StartingBand {
  let [low, high] = ends;
  const sources = [source];
  for (const band of asked) {
    const [under, over] = [Math.max(low, band.low ?? low), Math.min(high, band.high ?? high)];
    if (under >= over || !differs(quantity, [low, high], [under, over])) continue;
    [low, high] = [under, over];
    if (!sources.includes(band.source)) sources.push(band.source);
  }
  return { quantityCode: quantity.code, low, high, source: sources.join('; ') };
}

/** Whether two bands differ in what the farm's decimals show. */
function differs({ decimals, code, canonicalUnit, displayUnit }: Quantity, a: Ends, b: Ends): boolean {
  const shown = (value: number) => {
    try {
      return convert(code, value, canonicalUnit, displayUnit).toFixed(decimals);
    } catch {
      return value.toFixed(decimals);
    }
  };
  return a.some((end, i) => shown(end) !== shown(b[i] ?? end));
}

/** Where a band comes from, as pages and alerts say it. */
export const bandSource = ({ starting, source }: { starting?: boolean; source: string }): string =>
  starting ? `starting band, from ${source}; not chosen by you` : source;
