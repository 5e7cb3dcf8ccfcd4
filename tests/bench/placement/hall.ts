import type { PlacementProblem } from '../../../src/racks/placement-solver/indexed-problem.rules.ts';
import type { PlanLot, PlanSlot } from '../../../src/racks/placement-solver/slot-fit.rules.ts';
import { type Random, seededRandom, shuffleFirst } from '../../../src/science/statistics/random.ts';

export interface HallShape {
  lots: number;
  slots: number;
  /** The part of the lots that stands somewhere, at random. */
  placed: number;
  /** Whether kinds reach each other at all. */
  reach: boolean;
  seed: number;
  /** Every slot on a rack of its own, so that a few slots differ in everything. */
  spread?: boolean;
}

const RACK = { rows: 12, columns: 20, pitchMm: 80 };

/** A made-up hall: racks of 12 x 20 slots, each bright in the middle, and lots of 40 kinds in ten ranges of light. */
export function hall({ lots, slots, placed, reach, seed, spread = false }: HallShape): PlacementProblem {
  const random = seededRandom(seed);
  const places = Array.from({ length: slots }, (_, i) => slotOf(spread ? i * 61 : i, random));
  const order = places.map(({ id }) => id);
  shuffleFirst(order, lots, random);
  const stock = Array.from({ length: lots }, (_, i) =>
    lotOf(i, random, reach, i < lots * placed ? [order[i] as string] : []),
  );
  return { lots: stock, slots: places };
}

/** One slot of the hall, by its number. */
export function slotOf(i: number, random: Random): PlanSlot {
  const rack = Math.floor(i / (RACK.rows * RACK.columns));
  const cell = i % (RACK.rows * RACK.columns);
  const [row, column] = [Math.floor(cell / RACK.columns) + 1, (cell % RACK.columns) + 1];
  const middle = Math.exp(-(((row - 6.5) / 9) ** 2) - ((column - 10.5) / 14) ** 2);
  const par = (70 + 22 * (rack % 8)) * middle * (1 + 0.03 * random.normal());
  return {
    id: `slot ${i}`,
    rackId: `rack ${rack}`,
    systemId: `system ${rack % 3}`,
    row,
    column,
    light: { par, error: par * 0.05, dli: par * 0.0324 },
    flow: Math.min(3, 1 + (rack % 2) + (column < 3 ? 1 : 0)),
    jet: column === 1 && row % 4 === 0,
    base: 'egg_crate',
    quarantine: false,
    widthMm: RACK.pitchMm,
    depthMm: RACK.pitchMm,
    open: true,
    emptied: false,
    frame: `rack ${rack}`,
    x: column * RACK.pitchMm,
    y: row * RACK.pitchMm,
    z: 0,
  };
}

/** One lot of a random kind, by its number. */
export function lotOf(i: number, random: Random, reach: boolean, slotIds: readonly string[]): PlanLot {
  const kind = random.below(40);
  const parLow = 35 + 8 * (kind % 10);
  return {
    id: `lot ${i}`,
    code: `L${i}`,
    kindId: `kind ${kind}`,
    kind: `Kind ${kind}`,
    care: {
      adaptationDays: 10,
      stepRatio: 1.25,
      parLow,
      parHigh: parLow * 2.2,
      parCeiling: parLow * 2.8,
      flowLow: kind % 3 === 0 ? 2 : 1,
      flowHigh: kind % 3 === 0 ? 3 : 2,
      jet: kind % 4 === 0 ? 'tolerated' : 'never on flesh',
      base: null,
      reachMm: reach ? ([20, 50, 50, 100][kind % 4] as number) : 0,
      isAccustomed: true,
      accustomed: parLow * 1.5 * (1 + 0.15 * random.normal()) * 0.0324,
    },
    sizeMm: 25 + random.below(20),
    quarantine: false,
    slotIds,
    role: 'chosen',
    staysWhy: '',
  };
}
