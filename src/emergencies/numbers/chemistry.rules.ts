import { fixed, levelWords, stepWords, withoutUnit } from '../../platform/units/everyday.ts';
import { gramsWords, lengthWords, litres } from '../../platform/units/measures.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import {
  type CarbonateWater,
  carbonateAtAir,
  nbsMinusTotal,
  roomCarbonDioxidePpm,
} from '../../science/carbonate.ts';
import {
  afterMixing,
  salinityAfterFreshWater,
  salinityAfterOverflow,
  salinityExchangeL,
} from '../../science/dilution.ts';
import {
  afterLimewater,
  carbonDioxideG,
  limewaterFromPh,
  limewaterL,
  riseUpToPh,
  saturatedLimewater,
} from '../../science/dosing.ts';
import { densityKgPerM3 } from '../../science/seawater.ts';
import { needed } from '../../water/acute/acute-states.rules.ts';
import { towardsEdge } from './pace.rules.ts';
import { assumed, type SystemNumbers, surfaceM2 } from './system-numbers.rules.ts';
import { heatAndThinWater } from './two-at-once.rules.ts';

const low = needed('alkalinity', 'below');
const [thin, strong] = [needed('salinity', 'below'), needed('salinity', 'above')];

/** In whole litres from twenty on: nobody pours more exactly. */
const about = (volumeL: number) => litres(volumeL < 20 ? Math.round(volumeL * 10) / 10 : Math.round(volumeL));
const psu = (value: number) => withoutUnit(levelWords('salinity', value));
const { byPsu } = fixed;
const byMeq = (step: number) => stepWords('alkalinity', step);

/** "20 to 30 % are 239 to 358 L." */
export const waterChange =
  (low: number, high: number) =>
  ({ volumeL }: SystemNumbers): string[] => [
    `${low} to ${high} % are ${withoutUnit(about((volumeL * low) / 100))} to ${about((volumeL * high) / 100)}.`,
  ];

function waterOf({ readings }: SystemNumbers): CarbonateWater {
  const salinity = Math.min(42, Math.max(19, readings.salinity?.value ?? assumed.salinity));
  const temperatureDegC = Math.min(35, Math.max(5, readings.temperature?.value ?? assumed.temperature));
  const meqL = Math.min(9, Math.max(0.5, readings.alkalinity?.value ?? assumed.alkalinityMeqL));
  return {
    salinity,
    temperatureDegC,
    alkalinityUmolKg: (meqL * 1e6) / densityKgPerM3(salinity, temperatureDegC),
  };
}

/** Limewater: what fits, and what the pH that was read tells of the amount that came in. */
export function limewater(system: SystemNumbers): string[] {
  const before = { ...waterOf(system), alkalinityUmolKg: (assumed.alkalinityMeqL * 1e6) / 1023 };
  const strength = (saturatedLimewater(25).perMl.alkalinity ?? 0) * 1000;
  const density = densityKgPerM3(before.salinity, before.temperatureDegC);
  const needed = (meqL: number) => limewaterL(meqL, system.volumeL, strength);
  const half = afterLimewater(before, 8.1, 0.5);
  const upTo = (ph: number) => needed((riseUpToPh(before, 8.1, ph, 'calcium-hydroxide') * density) / 1e6);
  const scale = `${about(needed(0.5))} of saturated limewater are +${byMeq(0.5)} here and lift pH to about ${numberWords(half.phTotal, 1)}; ${about(upTo(8.8))} lift it to 8.8.`;
  return [scale, ...cameIn(system, before, strength)];
}

/** What a high pH tells, and the carbon dioxide that would bring it back; nothing where pH is not high. */
function cameIn(system: SystemNumbers, before: CarbonateWater, strengthMeqL: number): string[] {
  const { ph } = system.readings;
  if (ph === undefined || ph.value < 8.5) return [];
  const reach = (start: number): number | null => {
    try {
      return limewaterFromPh(before, start, ph.value);
    } catch (error) {
      if (error instanceof RangeError) return null;
      throw error;
    }
  };
  const [most, least] = [reach(8), reach(8.2)];
  if (most === null || least === null)
    return [
      `pH ${numberWords(ph.value, 2)} (read ${ph.when}) is more than 3 meq/L of limewater. Measure again.`,
    ];
  const after = afterLimewater(before, 8.1, (most + least) / 2);
  const water = { ...before, alkalinityUmolKg: after.alkalinityUmolKg };
  const grams = carbonDioxideG(water, after.phTotal, 8.45, system.volumeL);
  return [
    `pH ${numberWords(ph.value, 2)} (read ${ph.when}) tells of ${numberWords(least, 1)} to ${numberWords(most, 1)} meq/L (${withoutUnit(byMeq(least))} to ${byMeq(most)}) if it was limewater: about ${about(limewaterL((most + least) / 2, system.volumeL, strengthMeqL))}. Where snow has fallen, more came in.`,
    `All of that would take ${gramsWords(Math.round(Math.max(0, grams)))} of carbon dioxide to pH 8.4 to 8.5. Half an hour at a time, with a probe in the water.`,
  ];
}

/** pH this water comes to in air of so much carbon dioxide. */
export function roomAir(system: SystemNumbers): string[] {
  const water = waterOf(system);
  const nbs = nbsMinusTotal(Math.min(40, Math.max(20, water.salinity)), water.temperatureDegC);
  const levels = [420, 800, 1000, 1500].map(
    (ppm) => `${numberWords(carbonateAtAir(water, ppm).phTotal, 2)} at ${numberWords(ppm, 0)} ppm`,
  );
  const { ph, alkalinity } = system.readings;
  const rests =
    alkalinity === undefined
      ? `${levelWords('alkalinity', assumed.alkalinityMeqL, 0)}, taken since nothing was read`
      : `${alkalinity.mark}${levelWords('alkalinity', alkalinity.value)} read ${alkalinity.when}`;
  const now = ph === undefined ? 'No pH was read in two weeks.' : towardsEdge('ph', 'below')(system).join('');
  return [
    `${now} At rest with the air this water (${rests}) comes to pH ${levels.join(', ')} (total scale; a probe set with ordinary buffers reads about ${numberWords(nbs, 2)} higher).`,
    peopleInRoom(),
  ];
}

/** What two people do to the air of a closed room, small and large, draughty and tight (own choice of rooms). */
function peopleInRoom(): string {
  const after = (volumeM3: number, airChangesPerH: number) =>
    numberWords(roomCarbonDioxidePpm({ volumeM3, airChangesPerH, people: 2 }, 420, 4), 0);
  return `The size of the room is not known. Two people in a closed one for 4 hours: ${after(200, 1)} ppm in 200 m³ with draughts, ${after(50, 0.3)} ppm in 50 m³ that is tight.`;
}

/** Alkalinity: hours to the floor at the pace of the last two readings, and the steps up. */
export function alkalinityFall(system: SystemNumbers): string[] {
  const step = low.rate.by ?? 0;
  const gram = `${byMeq(step)} are ${gramsWords(Math.round(step * 84.007e-3 * system.volumeL))} of sodium bicarbonate here.`;
  const read = towardsEdge('alkalinity', 'below')(system);
  return [...(read.length === 0 ? ['No alkalinity was read in two weeks.'] : read), gram];
}

/** Salinity: how much fresh water or salt water is behind it, and litres for a step of 1. */
export function salinityStep(system: SystemNumbers): string[] {
  const {
    readings: { salinity },
    volumeL,
  } = system;
  if (salinity === undefined) return ['No salinity was read in two weeks.'];
  const s = salinity.value;
  const [read = ''] = towardsEdge('salinity', 'below', 'above')(system);
  if (s < 35) {
    const fresh = volumeL * (35 / s - 1);
    const up = salinityExchangeL(volumeL, s, s + 1, Math.min(42, s + 8));
    const rate =
      s < thin.edge
        ? `${byPsu(1)} an hour up to ${fixed.psu(thin.rate.to)}: ${numberWords(thin.rate.to - s, 1)} hours. ${thin.slow}`
        : `${byPsu(1)} to ${byPsu(2)} a day.`;
    return [
      `${read} From ${fixed.psu(35)} that is ${about(fresh)} of fresh water, or ${about(volumeL * Math.log(35 / s))} where it ran over meanwhile.`,
      ...goesOn(volumeL, s),
      ...stoodSo(s),
      ...heatAndThinWater(system),
      `${rate} A step of ${byPsu(1)} up: change ${about(up)} for water of ${withoutUnit(levelWords('salinity', Math.min(42, s + 8), 0))}.`,
    ];
  }
  const down = salinityExchangeL(volumeL, s, s - 1, 0);
  const rate =
    s > strong.edge
      ? `${byPsu(1)} in 1 to 2 hours down to ${fixed.psu(strong.rate.to)}. ${strong.slow}`
      : `${byPsu(1)} to ${byPsu(2)} a day.`;
  return [read, `${rate} A step of ${byPsu(1)} down: change ${about(down)} for purified water.`];
}

/**
 * How long sensitive branching corals stood low salinity: 28 for 16 days, 22 for 3 (field thresholds of Acropora on the Great
 * Barrier Reef). Between the two nobody measured, so the shorter is given.
 */
const stood = [
  { down: 28, days: 16 },
  { down: 22, days: 3 },
] as const;

/** How long they have at this salinity by the published figures; nothing above what was measured. */
function stoodSo(s: number): string[] {
  const [long, short] = stood;
  const published = `Sensitive branching corals survived a salinity of ${fixed.psu(long.down)} for ${long.days} days and ${fixed.psu(short.down)} for ${short.days} (field thresholds)`;
  if (s > long.down) return [];
  if (s === long.down) return [`${published}.`];
  return s >= short.down
    ? [
        `${published}. Between the two nobody measured: count on ${short.days} days here, fewer in water above ${fixed.degC(30)}.`,
      ]
    : [`${published}. Lower than that nobody measured: count on hours, not days.`];
}

/** Where a tenth of the volume more would take it: with room for it, and where as much runs over. */
function goesOn(volumeL: number, s: number): string[] {
  const [kept, over] = [salinityAfterFreshWater, salinityAfterOverflow].map((after) =>
    psu(after(s, volumeL, volumeL / 10)),
  );
  return [`Another ${about(volumeL / 10)} take it to ${kept}, or ${over} where it runs over.`];
}

/** What a centimetre of level is. */
export function levelDrop(system: SystemNumbers): string[] {
  const surface = surfaceM2(system);
  const each =
    surface === null || surface === 0
      ? 'How much water a lower level is, is not known: no tank is entered.'
      : `${lengthWords(10)} lower in all tanks is ${about(surface * 10)}.`;
  return [
    each,
    `${about(system.volumeL / 10)} of fresh water in place of what was lost take salinity from ${fixed.psu(35)} to ${psu(afterMixing(35, 0, 0.1))}.`,
  ];
}

/** Thiosulphate for chlorine: 7.0 mg of the pentahydrate a mg. */
export const thiosulphate = ({ volumeL }: SystemNumbers): string[] => [
  `For 0.1 mg/L of chlorine: ${gramsWords(Number(((0.1 * 7 * volumeL) / 1000).toFixed(2)))} of sodium thiosulphate pentahydrate.`,
];
