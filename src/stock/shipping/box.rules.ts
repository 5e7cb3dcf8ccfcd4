import { numberWords, plural } from '../../platform/words/numbers.ts';
import { foamBoxDegC, MEASURED_LITRES } from '../../science/foam-box.ts';

/** What the box is made of, as far as it decides how well it is known. */
export const WALLS = ['foam', 'thicker', 'unknown'] as const;
export type Wall = (typeof WALLS)[number];

/** What warms or cools it on the way. */
export const PACKS = ['none', 'heat', 'cold'] as const;
export type Pack = (typeof PACKS)[number];

/** A box with its way; null where nobody said. Temperatures degC. */
export interface Box {
  readonly wall: Wall;
  readonly pack: Pack;
  readonly lengthCm: number | null;
  readonly widthCm: number | null;
  readonly litres: number | null;
  readonly hours: number | null;
  readonly startDegC: number | null;
  readonly coldestDegC: number | null;
  readonly warmestDegC: number | null;
}

/** Between which temperatures the water is at the end of the way, degC; null on a side that cannot be said. */
export interface BoxRange {
  readonly low: number | null;
  readonly high: number | null;
  /** Why a side is wide or missing; '' where both are by the formula. */
  readonly why: string;
}

const inWords: Record<string, string> = {
  lengthCm: 'the length of the box',
  widthCm: 'its width',
  litres: 'the litres and bags',
  hours: 'the hours from door to door',
  startDegC: 'how warm the water is when it is packed',
  coldestDegC: 'the coldest air on the way',
  warmestDegC: 'the warmest air on the way',
};

/** What is missing before anything can be said, in words. */
function missing(box: Box, names: readonly (keyof Box)[]): string[] {
  return names.filter((name) => box[name] === null).map((name) => inWords[name] ?? name);
}

/**
 * Where the water of a box ends: by the formula for foam of 2.5 cm. In thicker foam it lies between that and where it began;
 * in a box that nobody knows, anywhere between where it began and the air. A heat pack only warms and a cold pack only
 * cools, by how much is not known: that side is not said.
 */
export function boxRange(box: Box): BoxRange | { missing: string[] } {
  const { wall, pack, startDegC: start, coldestDegC: cold, warmestDegC: warm } = box;
  const needed: (keyof Box)[] = ['startDegC', 'coldestDegC', 'warmestDegC'];
  const lacks = missing(
    box,
    wall === 'unknown' ? needed : [...needed, 'lengthCm', 'widthCm', 'litres', 'hours'],
  );
  if (lacks.length > 0 || start === null || cold === null || warm === null) return { missing: lacks };
  const [low, high] = ends(box, start, cold, warm);
  const whys = [
    ...(wall === 'unknown' ? ['How well this box keeps its warmth is not known.'] : []),
    ...(wall === 'thicker' ? ['Thicker foam keeps it nearer to where it began.'] : []),
    ...(wall !== 'unknown' && !nearMeasured(box.litres ?? 0)
      ? [
          `The formula was measured with about 8 L; ${MEASURED_LITRES.low} to ${MEASURED_LITRES.high} L are near that.`,
        ]
      : []),
    ...(pack === 'heat' ? ['How much the heat pack warms is not known.'] : []),
    ...(pack === 'cold' ? ['How much the cold pack cools is not known.'] : []),
  ];
  return {
    low: pack === 'cold' ? null : low,
    high: pack === 'heat' ? null : high,
    why: whys.join(' '),
  };
}

const nearMeasured = (litres: number) => litres >= MEASURED_LITRES.low && litres <= MEASURED_LITRES.high;

function ends(box: Box, start: number, cold: number, warm: number): [number, number] {
  if (box.wall === 'unknown') return [Math.min(start, cold), Math.max(start, warm)];
  const { lengthCm, widthCm, litres, hours } = box;
  const water = { lengthCm: lengthCm ?? 1, widthCm: widthCm ?? 1, litres: litres ?? 1 };
  const at = [cold, warm].map((air) => foamBoxDegC(water, start, air, hours ?? 0));
  if (box.wall === 'thicker') at.push(start);
  return [Math.min(...at), Math.max(...at)];
}

/** Between which temperatures a kind travels and is kept, degC; null where nobody states it. */
export interface KindTemperatures {
  /** "Acropora tenuis". */
  readonly name: string;
  readonly boxLow: number | null;
  readonly boxHigh: number | null;
  readonly keptLow: number | null;
  readonly keptHigh: number | null;
}

/** What is said of a box with these kinds in it. `refused` needs a reason; `warned` and `unsaid` are read before it is packed. */
export interface BoxVerdict {
  readonly answer: 'fits' | 'warned' | 'refused' | 'unsaid';
  readonly lines: string[];
  readonly range: BoxRange | null;
}

/** How a temperature in degC is written for whoever reads. */
export type SayDegrees = (degC: number) => string;

/** "16.5 °C to 24.0 °C" where the water ends; a side that cannot be said is named. */
export function rangeWords({ low, high }: BoxRange, degrees: SayDegrees): string {
  if (low === null && high === null) return 'cannot be said';
  if (low === null) return `at most ${degrees(high ?? 0)}; how cold cannot be said`;
  if (high === null) return `at least ${degrees(low)}; how warm cannot be said`;
  return degrees(low) === degrees(high) ? degrees(low) : `${degrees(low)} to ${degrees(high)}`;
}

/**
 * Whether kinds can travel in a box. Past what a kind bears in a box it is refused where the box is known, and warned where
 * it may be, or where that cannot be said. That it leaves what it is kept at is only told: most boxes do. A long way is
 * warned of, and refused past two days.
 */
export function boxVerdict(box: Box, kinds: readonly KindTemperatures[], degrees: SayDegrees): BoxVerdict {
  const warmth = warmthVerdict(box, kinds, degrees);
  const way = wayVerdict(box.hours);
  if (way === null) return warmth;
  const answer = way.answer === 'refused' || warmth.answer === 'refused' ? 'refused' : 'warned';
  return { answer, lines: [...warmth.lines, way.line], range: warmth.range };
}

/**
 * Hours in bags: pieces of branching corals were safe for 20 h in bags with oxygen, and past 48 h part of every set had
 * died (a published transport trial, read in a summary: pH fell to 7.3 and the oxygen of bags with air to nothing).
 */
const [safeHours, mostHours] = [20, 48] as const;

/** What is said of the hours from door to door; null where they are few, or nobody said. */
function wayVerdict(hours: number | null): { answer: 'warned' | 'refused'; line: string } | null {
  if (hours === null || hours <= safeHours) return null;
  const way = `${numberWords(hours)} h from door to door is long.`;
  return hours > mostHours
    ? {
        answer: 'refused',
        line: `${way} In a published trial part of all pieces died past ${mostHours} h in bags.`,
      }
    : {
        answer: 'warned',
        line: `${way} In a published trial pieces were safe for ${safeHours} h in bags, and with oxygen only.`,
      };
}

function warmthVerdict(box: Box, kinds: readonly KindTemperatures[], degrees: SayDegrees): BoxVerdict {
  const range = boxRange(box);
  if ('missing' in range)
    return {
      answer: 'unsaid',
      lines: [`How warm the box stays cannot be said. Not entered: ${range.missing.join(', ')}.`],
      range: null,
    };
  const isSure = box.wall === 'foam' && box.pack === 'none' && nearMeasured(box.litres ?? 0);
  const past = kinds.flatMap((kind) => [
    ...tooCold(kind, range, box, degrees),
    ...tooWarm(kind, range, box, degrees),
  ]);
  const beyond = past.filter(({ edge }) => edge === 'box');
  const told = beyond.length > 0 ? beyond : past;
  const lines = [...pastLines(told), ...whatHelps(told, box)];
  const unknown = kinds.filter(({ boxLow, boxHigh }) => boxLow === null && boxHigh === null);
  if (unknown.length > 0)
    lines.push(
      `What temperature in a box is too much for ${plural(unknown.length, 'kind', 'kinds')} here is not known.`,
    );
  if (range.low === null || range.high === null) lines.push(range.why);
  const surelyBeyond = beyond.some(({ surely }) => surely || isSure);
  const isOpen = beyond.length > 0 || unknown.length > 0 || range.low === null || range.high === null;
  const answer = surelyBeyond ? 'refused' : isOpen ? 'warned' : 'fits';
  return { answer, lines: [...new Set(lines)], range };
}

interface Past {
  side: 'cold' | 'warm';
  edge: 'box' | 'kept';
  kind: string;
  /** What the water may come to, and what the kind asks for. */
  ends: string;
  asks: string;
  /** However the box is made. */
  surely: boolean;
}

/** One line for each end and limit, with all kinds it is told of. */
function pastLines(past: readonly Past[]): string[] {
  const kindsOf = new Map<string, { ends: string; asks: string; kinds: string[] }>();
  for (const { ends, asks, kind } of past) {
    const line = kindsOf.get(`${ends} ${asks}`) ?? { ends, asks, kinds: [] };
    line.kinds.push(kind);
    kindsOf.set(`${ends} ${asks}`, line);
  }
  return [...kindsOf.values()].map(({ ends, asks, kinds }) => {
    const names = [...new Set(kinds)];
    const named =
      names.length === 1 ? `${names[0]} is` : `${names.slice(0, -1).join(', ')} and ${names.at(-1)} are`;
    return `${ends}. By your care figures ${named} ${asks}.`;
  });
}

/** What helps a box that gets too cold or too warm (common practice). */
function whatHelps(past: readonly Past[], { pack }: Box): string[] {
  const [one, other] = new Set(past.map(({ side }) => side));
  if (one === undefined) return [];
  const { weather, adds } =
    other !== undefined
      ? { weather: 'milder', adds: '' }
      : one === 'cold'
        ? { weather: 'warmer', adds: 'heat' }
        : { weather: 'cooler', adds: 'cold' };
  const added = adds === '' || pack !== 'none' ? '' : ` a ${adds} pack,`;
  return [
    `What helps:${added} a box that insulates better, a faster carrier, or waiting for ${weather} weather.`,
  ];
}

function tooCold(
  kind: KindTemperatures,
  { low, high }: BoxRange,
  { pack }: Box,
  degrees: SayDegrees,
): Past[] {
  if (low === null) return [];
  const ends =
    pack === 'heat'
      ? `Without its heat pack the water in the bags may fall to ${degrees(low)}`
      : `The water in the bags may fall to ${degrees(low)}`;
  const past = (edge: Past['edge'], floor: number, asks: string): Past => ({
    ...{ side: 'cold', edge, kind: kind.name, ends, asks: `${asks} ${degrees(floor)}` },
    surely: high !== null && high < floor,
  });
  if (kind.boxLow !== null && low < kind.boxLow) return [past('box', kind.boxLow, 'not sent below')];
  if (kind.keptLow !== null && low < kind.keptLow) return [past('kept', kind.keptLow, 'kept above')];
  return [];
}

function tooWarm(
  kind: KindTemperatures,
  { low, high }: BoxRange,
  { pack }: Box,
  degrees: SayDegrees,
): Past[] {
  if (high === null) return [];
  const ends =
    pack === 'cold'
      ? `Without its cold pack the water in the bags may rise to ${degrees(high)}`
      : `The water in the bags may rise to ${degrees(high)}`;
  const past = (edge: Past['edge'], ceiling: number, asks: string): Past => ({
    ...{ side: 'warm', edge, kind: kind.name, ends, asks: `${asks} ${degrees(ceiling)}` },
    surely: low !== null && low > ceiling,
  });
  if (kind.boxHigh !== null && high > kind.boxHigh) return [past('box', kind.boxHigh, 'not sent above')];
  if (kind.keptHigh !== null && high > kind.keptHigh) return [past('kept', kind.keptHigh, 'kept below')];
  return [];
}
