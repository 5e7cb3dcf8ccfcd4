import { dayZero } from '../../watch/facts.ts';
import { factsAt } from './facts.ts';
import { kitsInUse } from './farm-world.ts';
import { roughDemandWorld } from './rough-demand-world.ts';
import { evaluating, ruleFor, type Tried } from './settings.ts';

/** True bottles, each 3 % off, in rough water: how many are said to read wrong. */
export interface BottleJob {
  kind: 'bottles';
  heading: string;
  systems: number;
  /** The most that may be named, as a part. */
  aim: number;
  seed: number;
  tried: Tried;
}

export interface BottleResult {
  kind: 'bottles';
  job: BottleJob;
  bottles: number;
  /** Parts of them: named as reading wrong, and told to differ or suspected at all, at any look. */
  named: number;
  told: number;
}

const [from, days, lookedEvery] = [180, 730, 7];

/** Runs one job; the same job gives the same result on every machine. Each bottle is checked against a standard every four weeks. */
export function runBottles(job: BottleJob): BottleResult {
  const evaluate = evaluating(ruleFor.kit, job.tried);
  const seen = { bottles: new Set<string>(), named: new Set<string>(), told: new Set<string>() };
  for (let i = 0; i < job.systems; i++) {
    const plan = { gap: 1, testSd: 0.1, saleEvery: 150, factor: 1, gives: 1, swings: 0 };
    const world = roughDemandWorld(
      { ...plan, days: from + days, onset: Number.POSITIVE_INFINITY },
      job.seed + i,
    );
    for (let day = from; day < from + days; day += lookedEvery) {
      const facts = factsAt(world, dayZero + day);
      const kits = kitsInUse('alkalinity', facts.readings.get('alkalinity') ?? [], dayZero + day);
      for (const { id } of kits) seen.bottles.add(`${i} ${id}`);
      for (const found of evaluate({ ...facts, kits }, dayZero + day)) {
        if (found.status !== 'fires') continue;
        seen.told.add(`${i} ${found.subject.id}`);
        if (found.title.includes('the kit reads')) seen.named.add(`${i} ${found.subject.id}`);
      }
    }
  }
  const part = (of: ReadonlySet<string>) => of.size / Math.max(1, seen.bottles.size);
  return { kind: 'bottles', job, bottles: seen.bottles.size, named: part(seen.named), told: part(seen.told) };
}
