import { fixed, levelWords, stepWords, withoutUnit } from '../../platform/units/everyday.ts';
import { litres } from '../../platform/units/measures.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { largestExchange } from '../../science/dilution.ts';
import {
  driftTimeConstantH,
  heatingPowerKw,
  hoursToTemperature,
  temperatureAfter,
  type Vessel,
  vesselHours,
} from '../../science/heat-transfer.ts';
import { needed, slowTemperature } from '../../water/acute/acute-states.rules.ts';
import { assumed, type SystemNumbers } from './system-numbers.rules.ts';
import { heatAndThinWater } from './two-at-once.rules.ts';

const [coldState, warmState] = [needed('temperature', 'below'), needed('temperature', 'above')];
/** Where the fast rate leads to, degC, and the rate, degC an hour. */
const cold = { edge: coldState.rate.to, rate: coldState.rate.by ?? 1 };
/** Inside the edge it is warmed by no more than this an hour, degC. */
const slowest = 0.5;
const [soonest, latest] = warmState.rate.everyHours;
const warm = {
  to: warmState.rate.to,
  slow: (warmState.rate.by ?? 0.5) / latest,
  fast: (warmState.rate.by ?? 0.5) / soonest,
};

const { degC, byDegC } = fixed;
const degrees = (value: number) => levelWords('temperature', value);

function readWords({ readings: { temperature } }: SystemNumbers): string {
  return temperature === undefined
    ? 'No temperature was read in two weeks.'
    : `Read ${temperature.when}: ${degrees(temperature.value)}.`;
}

/** Nearer to its usual than this nothing is set right, degC: the error of a thermometer. */
const nearUsual = 0.3;

/** What the system usually has, where that lies between the acute edges: weeks beyond one are trouble, and no usual. */
const usualOf = ({ usualTemperature: usual }: SystemNumbers): number | null =>
  usual === null || usual < cold.edge || usual > warm.to ? null : usual;

/** Where the slow way ends: what the system usually has, where that is known. */
const toUsual = (usual: number | null, way: 'down' | 'up'): string =>
  usual === null ? '' : `, ${way} to its usual ${degrees(usual)}`;

/** How to warm cold water: rate, hours, power, and where the slow rate takes over. */
export function warming(system: SystemNumbers): string[] {
  const powerFor = (rate: number) =>
    `${numberWords(heatingPowerKw(system.volumeL, rate), 2)} kW for ${byDegC(rate)} an hour in ${litres(system.volumeL)}, on top of what the room takes.`;
  const t = system.readings.temperature?.value;
  const usual = usualOf(system);
  const over = coldState.slow;
  if (t === undefined) return [readWords(system), powerFor(cold.rate), over];
  if (usual !== null && t > usual - nearUsual)
    return [
      `${readWords(system)} It is no colder than its usual ${degrees(usual)}: warm nothing on this reading.`,
    ];
  if (t >= cold.edge)
    return [
      `${readWords(system)} That is not below ${degC(cold.edge)}: only slowly, by ${slowTemperature.up}${toUsual(usual, 'up')}.`,
      powerFor(slowest),
    ];
  const hours = (cold.edge - t) / cold.rate;
  return [
    `${readWords(system)} ${byDegC(cold.rate)} an hour up to ${degC(cold.edge)}: ${numberWords(hours, 1)} hours.`,
    powerFor(cold.rate),
    over,
  ];
}

/** How to cool warm water: rate, hours, fan, cold water, and where the slow rate takes over. */
export function cooling(system: SystemNumbers): string[] {
  const { volumeL, readings } = system;
  const usual = usualOf(system);
  const t = readings.temperature?.value;
  // A kilogram evaporated takes 2.44 MJ, a degree of a cubic metre 4.085 MJ.
  const evaporated = (volumeL / 1000) * (4.085 / 2.44);
  const points = [
    `A fan takes ${byDegC(1)} out for every ${litres(evaporated)} that evaporate: watch the top-up.`,
    `Water ${byDegC(10)} colder: at most ${litres(Math.floor(largestExchange(10, 0, warm.slow) * volumeL))} at a time, which is ${byDegC(warm.slow)}.`,
  ];
  if (t === undefined) return [readWords(system), ...heatAndThinWater(system), ...points, warmState.slow];
  if (usual !== null && t < usual + nearUsual)
    return [
      `${readWords(system)} It is no warmer than its usual ${degrees(usual)}: cool nothing on this reading.`,
    ];
  if (t <= warm.to) {
    const slowly = `${readWords(system)} That is not above ${degC(warm.to)}: only slowly, by ${slowTemperature.down}${toUsual(usual, 'down')}.`;
    return [slowly, ...heatAndThinWater(system), ...points];
  }
  const [least, most] = [(t - warm.to) / warm.fast, (t - warm.to) / warm.slow];
  const rate = `${readWords(system)} ${withoutUnit(byDegC(warm.slow))} to ${byDegC(warm.fast)} an hour down to ${degC(warm.to)}: ${numberWords(least, 1)} to ${numberWords(most, 1)} hours.`;
  const slow = usual === null ? [] : [`Then on slowly, to its usual ${degrees(usual)}.`];
  return [rate, ...heatAndThinWater(system), ...points, warmState.slow, ...slow];
}

/** Rooms between which one without heat is taken to lie, degC, and their humidity. Own choice. */
const rooms = [5, 15] as const;
const humidity = 0.5;

/** Below this a tank counts as cooling out, degC; common practice. */
const coldFrom = 20;
/** A fall between two readings that is more than their error, degC; own choice. */
const leastFall = 0.3;

/** Two readings further apart say nothing of the pace now: all of the fall may have come of late. Hours, own choice. */
const isRecent = (hours: number) => hours > 0 && hours <= 12;

/** How fast it falls by its last two readings, carried on by Newton's law to rooms of both temperatures; null where it does not fall. */
function fallOf({ readings: { temperature } }: SystemNumbers) {
  const before = temperature?.before;
  if (temperature === undefined || !before || before.change > -leastFall || !isRecent(before.hours))
    return null;
  const { value } = temperature;
  const drifts = rooms.flatMap((degC) => {
    const tau = driftTimeConstantH(value - before.change, value, degC, before.hours);
    return tau === null ? [] : [{ degC, tau }];
  });
  if (drifts.length === 0) return null;
  const hours = drifts.map(({ degC, tau }) => hoursToTemperature(value, coldFrom, degC, tau));
  const inAnHour = drifts.map(({ degC, tau }) => temperatureAfter(value, degC, tau, 1));
  return { value, ...before, soonest: Math.min(...hours), latest: Math.max(...hours), inAnHour };
}

function fallWords(system: SystemNumbers): string[] {
  const fall = fallOf(system);
  if (fall === null || fall.value <= coldFrom) return [];
  const { soonest, latest, change, hours, inAnHour } = fall;
  const span =
    numberWords(soonest, 1) === numberWords(latest, 1)
      ? numberWords(soonest, 1)
      : `${numberWords(soonest, 1)} to ${numberWords(latest, 1)}`;
  return [
    `It fell by ${stepWords('temperature', -change)} in ${numberWords(hours, 1)} h. At that pace it is at ${degrees(Math.min(...inAnHour))} in an hour and at ${degC(coldFrom)} in ${span} h.`,
  ];
}

/** A look at half of the shortest time to 20 degC; null where it is there already. */
export function beforeCold(system: SystemNumbers): { minutes: number; why: string } | null {
  const t = system.readings.temperature?.value ?? assumed.temperature;
  if (t <= coldFrom) return null;
  const vessel = smallest(system);
  const still =
    vessel === null
      ? Number.POSITIVE_INFINITY
      : vesselHours(vessel, t, coldFrom, { degC: rooms[0], humidity, covered: false });
  const hours = Math.min(still, fallOf(system)?.soonest ?? Number.POSITIVE_INFINITY);
  if (!Number.isFinite(hours)) return null;
  return {
    minutes: hours * 30,
    why: `${system.name} can be at ${degC(coldFrom)} in ${numberWords(hours, 1)} h`,
  };
}

/** Hours until the smallest tank passes 20 degC without heat, open and covered, in a cold and a cool room. */
export function coolingTime(system: SystemNumbers): string[] {
  const t = system.readings.temperature?.value ?? assumed.temperature;
  if (t <= coldFrom) return [readWords(system)];
  const vessel = smallest(system);
  if (vessel === null)
    return [...fallWords(system), 'How fast it cools is not known: no tank of this system is entered.'];
  const span = (covered: boolean) =>
    rooms.map((degC) => vesselHours(vessel, t, coldFrom, { degC, humidity, covered }));
  const said = (covered: boolean) => {
    const [soon = 0, late = 0] = span(covered);
    return Number.isFinite(late)
      ? `${numberWords(soon, 0)} to ${numberWords(late, 0)} h`
      : `${numberWords(soon, 0)} h or more`;
  };
  return [
    ...fallWords(system),
    `Without heat the smallest tank passes ${degC(coldFrom)} after ${said(false)} open, ${said(true)} covered, in a room of ${withoutUnit(degC(rooms[0]))} to ${degC(rooms[1])}. Without pumps each tank cools by itself.`,
  ];
}

function smallest({ tanks, volumeL }: SystemNumbers): Vessel | null {
  const inside = tanks.map(({ lengthM, widthM, heightM }) => lengthM * widthM * heightM);
  const least = tanks[inside.indexOf(Math.min(...inside))];
  if (least === undefined) return null;
  const waterM = Math.min(least.heightM, volumeL / 1000 / (least.lengthM * least.widthM));
  return { lengthM: least.lengthM, widthM: least.widthM, waterM };
}
