/** How long the statistics take. Prints figures, asserts nothing: `node tests/bench/science-statistics.ts`. */
import { cpus } from 'node:os';
import { stdout } from 'node:process';
import { trackNitrate } from '../../src/science/filter/nitrate.ts';
import { nitrateRise } from '../../src/science/filter/nitrate-forecast.ts';
import { alkalinitySlopeOptions, trackSlope } from '../../src/science/filter/slope.ts';
import { fitSlopeNoise } from '../../src/science/filter/slope-fit.ts';
import { swingOptions, watchSwing } from '../../src/science/filter/swing.ts';
import { lightField } from '../../src/science/kriging.ts';
import { scanGroups } from '../../src/science/scan.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { mannKendall, theilSen } from '../../src/science/trend.ts';
import { assign } from '../science/assignment/dense.ts';
import { onThirtyRacks } from '../science/lamp-fields.ts';
import { alkalinityWorld, creepWorld } from '../science/worlds.ts';

const random = seededRandom(1);
const YEARS = 3 * 365;

const survey = Array.from({ length: 20 }, (_, i) => ({
  x: (i * 7) % 12,
  y: i,
  value: 100 + 200 * random.uniform(),
}));
const points = (n: number) =>
  Array.from({ length: n }, (_, time) => ({ time, value: time / 500 + random.normal() }));
const [hundred, thousand] = [points(100), points(1000)];
const nitrate = creepWorld({ seed: 1, days: YEARS, onset: 900, rise: 1, gap: 3.5 }).log;
const alkalinity = alkalinityWorld({ seed: 1, days: YEARS, onset: 900, factor: 2 });
const costs = Array.from({ length: 200 }, () => Array.from({ length: 600 }, () => random.uniform()));
const lots = Array.from({ length: 2000 }, (_, i) => ({
  affected: random.uniform() < 0.05,
  groups: { rack: `${i % 60}`, tank: `${i % 12}`, kind: `${i % 35}`, origin: `${i % 90}`, hand: `${i % 4}` },
}));

const cases: [string, () => unknown][] = [
  ['kriging of a 12 x 20 rack from 20 readings, variogram fitted', rack],
  ['Mann-Kendall, 100 points', () => mannKendall(hundred)],
  ['Theil-Sen, 100 points', () => theilSen(hundred)],
  ['Mann-Kendall, 1,000 points', () => mannKendall(thousand)],
  ['Theil-Sen, 1,000 points', () => theilSen(thousand)],
  [
    'nitrate filter, 3 years, 2 tests a week, rise after each',
    () => trackNitrate(nitrate, YEARS).history.map((s) => nitrateRise(s)),
  ],
  [
    'alkalinity level and slope, 3 years daily',
    () => trackSlope(alkalinity, YEARS, alkalinitySlopeOptions(1)),
  ],
  ['alkalinity swing, 3 years daily', () => watchSwing(alkalinity, swingOptions(1))],
  [
    'noise fitted to 90 alkalinity readings',
    () => fitSlopeNoise(alkalinity.slice(-90), alkalinitySlopeOptions(1)),
  ],
  ['scan of 2,000 lots by 5 groupings, 999 orders', () => scanGroups(lots)],
  ['assignment of 200 lots to 600 slots', () => assign(costs)],
];

function rack(): void {
  const field = lightField(survey);
  for (let x = 0; x < 12; x++) for (let y = 0; y < 20; y++) field.at({ x, y });
}

/** First run, and the median of those after it, in milliseconds. */
function time(run: () => unknown): { first: number; median: number } {
  const times = Array.from({ length: 8 }, () => {
    const start = performance.now();
    run();
    return performance.now() - start;
  });
  const [first = 0, ...warm] = times;
  warm.sort((a, b) => a - b);
  return { first, median: warm[Math.floor(warm.length / 2)] ?? 0 };
}

stdout.write(`${cpus()[0]?.model ?? 'unknown CPU'}, Node ${process.version}\n`);
stdout.write(`${'first'.padStart(9)} ${'median'.padStart(9)}  ms\n`);
for (const [name, run] of cases) {
  const { first, median } = time(run);
  stdout.write(`${first.toFixed(2).padStart(9)} ${median.toFixed(2).padStart(9)}  ${name}\n`);
}

const withheld = onThirtyRacks();
const off = (value: number) => value.toFixed(1);
stdout.write(
  `\nlight at withheld slots, 30 racks of 240 read at 20: kriging off by ${off(withheld.kriging)}, inverse distance by ` +
    `${off(withheld.inverseDistance)} umol/(m2 s); ${(100 * withheld.smaller).toFixed(0)} % less on the middle rack, better on ${withheld.wins}\n`,
);
