import { levelWords, withoutUnit } from '../../platform/units/everyday.ts';
import { gramsWords, lengthsWords, litres } from '../../platform/units/measures.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import {
  type OxygenUse,
  oxygenHours,
  oxygenSaturationMgPerL,
  oxygenTransferMPerH,
  oxygenUseMgLPerH,
  stockOxygenUse,
} from '../../science/oxygen.ts';
import { needed } from '../../water/acute/acute-states.rules.ts';
import { towardsEdge } from './pace.rules.ts';
import { assumed, type SystemNumbers, surfaceM2 } from './system-numbers.rules.ts';

/** Act now below this before dawn, mg/L. */
export const OXYGEN_FLOOR_MG_L = needed('oxygen', 'below').edge;

/**
 * What this water uses: the usual interval, widened by what the corals on the books can take. It is never narrowed by
 * them, since fish, rock and sand are not on the books.
 */
function useOf({ stock, volumeL }: SystemNumbers): OxygenUse {
  if (stock.sized === 0) return oxygenUseMgLPerH;
  const own = stockOxygenUse(stock.discM2, volumeL, stock.sized / stock.pieces);
  return {
    least: Math.max(oxygenUseMgLPerH.least, own.least),
    most: Math.max(oxygenUseMgLPerH.most, own.most),
  };
}

function useWords(system: SystemNumbers): string {
  const { stock } = system;
  const { least, most } = useOf(system);
  const rate = `${numberWords(least, 1)} to ${numberWords(most, 1)} mg/L used an hour`;
  if (stock.sized === 0)
    return `Taken: ${rate}, since ${stock.pieces === 0 ? 'no corals are listed' : 'no sizes of its corals are known'}.`;
  const unsized = stock.pieces - stock.sized;
  const guessed = unsized === 0 ? '' : `, ${numberWords(unsized, 0)} of unknown size taken like the others`;
  return `Taken: ${rate}, with ${plural(stock.pieces, 'piece', 'pieces')} listed${guessed}; fish are not counted.`;
}

/** What the oxygen of a system starts from. */
function startOf({ readings: { temperature, salinity, oxygen } }: SystemNumbers) {
  const [t, s] = [temperature?.value ?? assumed.temperature, salinity?.value ?? assumed.salinity];
  const full = oxygenSaturationMgPerL(s, t);
  return { t, s, full, start: Math.min(oxygen?.value ?? full, full) };
}

/** Hours to the floor without flow; `latest` null where no tank is known, and Infinity where it is never reached. */
function hoursLeft(system: SystemNumbers): { soonest: number; latest: number | null } {
  const { t, s, start } = startOf(system);
  const use = useOf(system);
  const surface = surfaceM2(system);
  if (start <= OXYGEN_FLOOR_MG_L) return { soonest: 0, latest: 0 };
  if (surface === null || surface === 0)
    return { soonest: (start - OXYGEN_FLOOR_MG_L) / use.most, latest: null };
  const water = { salinity: s, temperatureDegC: t, depthM: system.volumeL / 1000 / surface };
  return oxygenHours(water, OXYGEN_FLOOR_MG_L, start, use);
}

/** Hours of oxygen without flow, as an interval, with the assumptions behind it. */
export function oxygenLeft(system: SystemNumbers): string[] {
  const { temperature, oxygen } = system.readings;
  const { t, start } = startOf(system);
  const from = `from ${numberWords(start, 1)} mg/L${oxygen === undefined ? ' (full)' : ` (read ${oxygen.when})`} at ${levelWords('temperature', t)}${temperature === undefined ? ', taken since nothing was read' : ''}`;
  const { soonest, latest } = hoursLeft(system);
  if (oxygen !== undefined && soonest === 0) {
    const low = `Oxygen was ${numberWords(start, 1)} mg/L (read ${oxygen.when}), at or under ${OXYGEN_FLOOR_MG_L}.`;
    return [`${low} There is no time left: air now.`];
  }
  if (!Number.isFinite(soonest))
    return [
      `Oxygen without flow: so shallow a water may take in as much through its surface as is used, ${from}. Do not count on it: nobody has measured how much this stock uses, and still water is worse at the animal.`,
      useWords(system),
    ];
  const soon = numberWords(soonest, 1);
  if (latest === null)
    return [
      `Oxygen without flow: ${OXYGEN_FLOOR_MG_L} mg/L can be reached in ${soon} h, ${from}. How long at most is not known: no tank of this system is entered.`,
      useWords(system),
    ];
  const span = Number.isFinite(latest)
    ? `${soon} to ${numberWords(latest, 1)} h`
    : `${soon} h, or never where stock is thin`;
  return [
    `Oxygen without flow: ${OXYGEN_FLOOR_MG_L} mg/L after ${span}, ${from}. Plan for ${soon} h: nobody has measured how much this stock uses, and still water is worse at the animal.`,
    `${useWords(system)} ${surfaceWords(system)}`,
  ];
}

/** What the surface is taken to let in, and the same hours by use alone, so that they can be worked out by hand. */
function surfaceWords(system: SystemNumbers): string {
  const layer = lengthsWords(1000 * oxygenTransferMPerH.least, 1000 * oxygenTransferMPerH.most);
  const { start } = startOf(system);
  const { least, most } = useOf(system);
  const alone = [most, least].map((use) => numberWords((start - OXYGEN_FLOOR_MG_L) / use, 1)).join(' to ');
  return `Still water takes some in through its surface: as much an hour as a layer of full water of ${layer} holds (measured on lakes, not over corals). Without that it would be ${alone} h.`;
}

/** A look at half of the shortest time that the oxygen can last; null where the surface may give all that is used. */
export function beforeOxygenEnds(system: SystemNumbers): { minutes: number; why: string } | null {
  const { soonest } = hoursLeft(system);
  if (!Number.isFinite(soonest)) return null;
  return {
    minutes: soonest * 30,
    why: `oxygen in ${system.name} can be down to ${OXYGEN_FLOOR_MG_L} mg/L ${soonest === 0 ? 'already' : `in ${numberWords(soonest, 1)} h`}`,
  };
}

/** Water to stir or pour by hand, L a minute. Common practice. */
export const byHand = ({ volumeL }: SystemNumbers): string[] => [
  `By hand: pour ${withoutUnit(litres((2 * volumeL) / 100))} to ${litres((3 * volumeL) / 100)} a minute from a height, or stir without stopping.`,
];

/** Oxygen now against what the water can hold. */
export function oxygenNow(system: SystemNumbers): string[] {
  const [read = 'Nothing was read in two weeks.'] = towardsEdge('oxygen', 'below')(system);
  return [`${read} Full would be ${numberWords(startOf(system).full, 1)} mg/L.`];
}

/** Solid or liquid carbon that can use all oxygen between full and the floor, g of ethanol (2.08 g O2 a gram). */
export function carbonReach(system: SystemNumbers): string[] {
  const grams = ((startOf(system).full - OXYGEN_FLOOR_MG_L) * system.volumeL) / 1000 / 2.08;
  return [
    `${gramsWords(Number(grams.toFixed(1)))} of alcohol, eaten at once, take all oxygen down to ${OXYGEN_FLOOR_MG_L} mg/L here.`,
  ];
}
