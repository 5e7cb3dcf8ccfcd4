import { numberWords } from '../../platform/words/numbers.ts';
import { oxygenHours, oxygenSaturationMgPerL, oxygenUseMgLPerH } from '../../science/oxygen.ts';
import { assumed, type SystemNumbers, surfaceM2 } from './system-numbers.rules.ts';

/** Act now below this before dawn, mg/L. Own choice from bleaching at 1.25 mg/L and losses at 2 to 4 mg/L. */
export const OXYGEN_FLOOR_MG_L = 4;

const hours = (h: number) => (Number.isFinite(h) ? numberWords(h, 1) : '');

/** Hours of oxygen without flow, as an interval, with the assumptions behind it. */
export function oxygenLeft(system: SystemNumbers): string[] {
  const { temperature, salinity, oxygen } = system.readings;
  const [t, s] = [temperature?.value ?? assumed.temperature, salinity?.value ?? assumed.salinity];
  const surface = surfaceM2(system);
  const full = oxygenSaturationMgPerL(s, t);
  const start = Math.min(oxygen?.value ?? full, full);
  const from = `from ${numberWords(start, 1)} mg/L${oxygen === undefined ? ' (full)' : ` (read ${oxygen.when})`} at ${numberWords(t, 1)} °C${temperature === undefined ? ', taken since nothing was read' : ''}`;
  if (oxygen !== undefined && start <= OXYGEN_FLOOR_MG_L) {
    const low = `Oxygen was ${numberWords(start, 1)} mg/L (read ${oxygen.when}), at or under ${OXYGEN_FLOOR_MG_L}.`;
    return [`${low} There is no time left: air now.`];
  }
  if (surface === null || surface === 0) {
    const soonest = Math.max(0, start - OXYGEN_FLOOR_MG_L) / oxygenUseMgLPerH.most;
    return [
      `Oxygen without flow: ${OXYGEN_FLOOR_MG_L} mg/L can be reached in ${hours(soonest)} h, ${from}. How long at most is not known: no tank of this system is entered.`,
    ];
  }
  const water = { salinity: s, temperatureDegC: t, depthM: system.volumeL / 1000 / surface };
  const { soonest, latest } = oxygenHours(water, OXYGEN_FLOOR_MG_L, start);
  const span = Number.isFinite(latest)
    ? `${hours(soonest)} to ${hours(latest)} h`
    : `${hours(soonest)} h, or never where stock is thin`;
  return [
    `Oxygen without flow: ${OXYGEN_FLOOR_MG_L} mg/L after ${span}, ${from}. Plan for ${hours(soonest)} h: nobody has measured how much this stock uses, and still water is worse at the animal.`,
  ];
}

/** Water to stir or pour by hand, L a minute. Common practice. */
export const byHand = ({ volumeL }: SystemNumbers): string[] => [
  `By hand: pour ${numberWords((2 * volumeL) / 100, 0)} to ${numberWords((3 * volumeL) / 100, 0)} L a minute from a height, or stir without stopping.`,
];

/** Oxygen now against what the water can hold. */
export function oxygenNow(system: SystemNumbers): string[] {
  const { temperature, salinity, oxygen } = system.readings;
  const full = oxygenSaturationMgPerL(
    salinity?.value ?? assumed.salinity,
    temperature?.value ?? assumed.temperature,
  );
  const read =
    oxygen === undefined
      ? 'Nothing was read in two weeks.'
      : `Read ${oxygen.when}: ${numberWords(oxygen.value, 1)} mg/L.`;
  return [`${read} Full would be ${numberWords(full, 1)} mg/L.`];
}

/** Solid or liquid carbon that can use all oxygen between full and the floor, g of ethanol (2.08 g O2 a gram). */
export function carbonReach(system: SystemNumbers): string[] {
  const { temperature, salinity } = system.readings;
  const full = oxygenSaturationMgPerL(
    salinity?.value ?? assumed.salinity,
    temperature?.value ?? assumed.temperature,
  );
  const grams = ((full - OXYGEN_FLOOR_MG_L) * system.volumeL) / 1000 / 2.08;
  return [
    `${numberWords(grams, 1)} g of alcohol, eaten at once, take all oxygen down to ${OXYGEN_FLOOR_MG_L} mg/L here.`,
  ];
}
