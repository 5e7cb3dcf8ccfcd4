/**
 * How long it takes to place 2,000 lots of 40 kinds into 3,000 slots, and how long others wait for their turn meanwhile:
 * `npm run bench:place`. Prints figures, asserts nothing.
 */
import { cpus } from 'node:os';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import { yieldLoop } from '../../src/platform/yield-loop.ts';
import type { PlacementProblem } from '../../src/racks/placement-solver/indexed-problem.rules.ts';
import type { PlanSlot } from '../../src/racks/placement-solver/slot-fit.rules.ts';
import {
  brokenLimitsByLot,
  type PlacementPlan,
  planPlacement,
} from '../../src/racks/placement-solver/solve.rules.ts';
import { hall } from './placement/hall.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
say(`${cpus()[0]?.model ?? 'unknown processor'}, Node ${process.version}`);

/** The lots of a plan where it puts them, and lamps over every fourth rack that were turned up by half since. */
function turnedUp({ problem, moves }: PlacementPlan): PlacementProblem {
  const stands = (lot: number) => (moves.get(lot) ?? []).map((slot) => problem.slot(slot).id);
  const bright = ({ light, ...slot }: PlanSlot): PlanSlot => {
    const turned = light !== null && Number(slot.rackId.replace('rack ', '')) % 4 === 0;
    const more = (value: number) => (turned ? value * 1.5 : value);
    return { ...slot, light: light && { par: more(light.par), error: light.error, dli: more(light.dli) } };
  };
  return {
    lots: problem.lots.map((lot, i) => ({ ...lot, slotIds: stands(i) })),
    slots: problem.slots.map(bright),
  };
}

async function measure(what: string, problem: PlacementProblem): Promise<PlacementPlan> {
  const delay = monitorEventLoopDelay({ resolution: 1 });
  delay.enable();
  const [started, cpu] = [performance.now(), process.cpuUsage()];
  const turn = yieldLoop();
  let [longest, last] = [0, process.cpuUsage()];
  const plan = await planPlacement(problem, () => {
    const { user: own, system: kernel } = process.cpuUsage(last);
    longest = Math.max(longest, own + kernel);
    last = process.cpuUsage();
    return turn();
  });
  const took = performance.now() - started;
  const { user, system } = process.cpuUsage(cpu);
  delay.disable();
  const [before, after] = [
    brokenLimitsByLot(plan.problem, plan.before).size,
    brokenLimitsByLot(plan.problem, plan.after).size,
  ];
  const line = (said: string, figures: string) => say(`  ${said.padEnd(36)} ${figures}`);
  say(`\n${what}: ${problem.lots.length} lots, ${problem.slots.length} slots`);
  line(
    'worked out in',
    `${(took / 1000).toFixed(2)} s, of it processor time ${((user + system) / 1e6).toFixed(2)} s`,
  );
  line(
    'longest piece without a pause',
    `${(longest / 1e3).toFixed(0)} ms of processor time (others waited ${(delay.max / 1e6).toFixed(0)} ms)`,
  );
  line('stand wrong before, after', `${before}, ${after}`);
  line('moves, lots that fit nowhere', `${plan.moves.size}, ${plan.unresolved.length}`);
  return plan;
}

const size = { lots: 2000, slots: 3000, seed: 11 };
await measure('A delivery, nobody reaches anybody', hall({ ...size, placed: 0, reach: false }));
const placed = await measure('A delivery', hall({ ...size, placed: 0, reach: true }));
await measure('Lamps over every fourth rack turned up by half', turnedUp(placed));
const large = hall({ ...size, lots: 200, placed: 0, reach: true });
await measure('Lots of four slots', { ...large, lots: large.lots.map((lot) => ({ ...lot, sizeMm: 120 })) });
await measure('All stand at random', hall({ ...size, placed: 1, reach: true }));
