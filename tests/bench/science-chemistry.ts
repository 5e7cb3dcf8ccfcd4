/**
 * How fast the chemistry and the light model are: `node tests/bench/science-chemistry.ts`. Prints figures, asserts
 * nothing. Aim: the accustomed light of 20,000 lots with ten moves each in under 200 ms.
 */
import { cpus } from 'node:os';
import { carbonateFromDic, carbonateFromPh } from '../../src/science/carbonate.ts';
import { accustomedLight, type LightPiece } from '../../src/science/light.ts';
import { parseReadingText } from '../../src/science/units.ts';

const LOTS = 20_000;
const MOVES = 10;

/** Best of several runs, in milliseconds: the machine's noise only ever adds. */
function bestOf(runs: number, work: () => void): number {
  const times = Array.from({ length: runs }, () => {
    const start = performance.now();
    work();
    return performance.now() - start;
  });
  return Math.min(...times);
}

/** Results are added up, so that none of the work can be optimised away. */
let sink = 0;

function perSecond(count: number, work: (i: number) => number): string {
  const ms = bestOf(7, () => {
    for (let i = 0; i < count; i += 1) sink += work(i);
  });
  return Math.round((count / ms) * 1000).toLocaleString('en');
}

function histories(): LightPiece[][] {
  return Array.from({ length: LOTS }, (_, lot) =>
    Array.from({ length: MOVES }, (_, move) => ({
      fromDay: move * 17 + (lot % 13),
      dailyLight: 2 + ((lot * 7 + move * 3) % 11),
    })),
  );
}

const water = (i: number) => ({
  salinity: 33 + (i % 40) / 10,
  temperatureDegC: 25,
  alkalinityUmolKg: 2400 + (i % 600),
});
const lots = histories();
const light = bestOf(7, () => {
  for (const history of lots) sink += accustomedLight(history, 10, 3, 200);
});
const print = (what: string, figure: string) =>
  process.stdout.write(`${what.padEnd(48)} ${figure.padStart(12)}\n`);

process.stdout.write(`${cpus()[0]?.model ?? 'unknown processor'}, Node ${process.version}\n`);
print(
  'carbonate from alkalinity and pH, a second',
  perSecond(20_000, (i) => carbonateFromPh(water(i), 8.1).omegaAragonite),
);
print(
  'carbonate from alkalinity and DIC, a second',
  perSecond(20_000, (i) => carbonateFromDic(water(i), 2050).phTotal),
);
print(
  'readings read from text, a second',
  perSecond(20_000, (i) => Number(parseReadingText(`${i % 12},4 dKH`, 'alkalinity', 'meq/L').ok)),
);
print(`accustomed light, ${LOTS} lots of ${MOVES} moves, ms`, light.toFixed(1));
if (!Number.isFinite(sink)) throw new Error('the benchmark worked on numbers that are none');
