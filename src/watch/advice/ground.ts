import type { Finding, SubjectType } from '../../alerts/finding.ts';
import { memoize } from '../../platform/memoize.ts';
import type { SystemFacts } from '../facts/types.ts';
import { doubtfulKit } from '../rules/levels/kit-bias.ts';

/** Whom advice concerns. */
export interface Concerned {
  type: SubjectType;
  id: string;
}

/** A reading, as much of it as its dependents need. */
export interface Test {
  kitId: string | null;
  confirmed: boolean;
}

/** What stands in what within one system: whether two pieces of advice concern the same animals and the same water. */
export interface Ground {
  /** True where one of them is the other, holds it, or hangs over it. */
  meet(a: Concerned, b: Concerned): boolean;
  /** The kit that a reading was made with, and whether a repeat bore it out, by the reading's id. */
  testOf(readingId: string): Test | null;
  /** The label of a kit whose readings nobody should rely on, of this system or of another that reads here; else null. */
  doubtful(kitId: string, now: Date): string | null;
}

/** The ground of a system. Kept with its facts. */
export const groundOf = memoize((facts: SystemFacts): Ground => {
  const lots = new Map(facts.lots.map((lot) => [lot.id, lot]));
  const racks = new Map(facts.racks.map((rack) => [rack.id, rack]));
  const above = ({ type, id }: Concerned): string[] => {
    if (type === 'lot') {
      const lot = lots.get(id);
      return [id, lot?.rackId ?? '', lot?.lampId ?? ''];
    }
    if (type === 'rack') return [id, racks.get(id)?.lampId ?? ''];
    return [id];
  };
  const whole: readonly SubjectType[] = ['system', 'tank', 'kit', 'correction'];
  let tests: Map<string, Test> | undefined;
  return {
    meet: (a, b) =>
      whole.includes(a.type) || whole.includes(b.type) || above(a).includes(b.id) || above(b).includes(a.id),
    testOf: (readingId) => {
      tests ??= new Map(
        [...facts.readings.values()].flatMap((readings) =>
          readings.map(({ id, kitId, trust }) => [id, { kitId, confirmed: trust === 'confirmed' }] as const),
        ),
      );
      return tests.get(readingId) ?? null;
    },
    doubtful: (kitId, now) => doubtfulKit(facts, kitId, now),
  };
});

/**
 * The kits of the last readings behind a finding, newest first. Where a repeat confirmed the newest, it is based on those
 * that say the same: the one before them may be of the very probe that they contradict.
 */
export function kitsBehind({ evidence }: Finding, ground: Ground): string[] {
  const last = evidence.filter(({ kind }) => kind === 'reading').slice(0, 3);
  const tests = last.flatMap(({ id }) => ground.testOf(id) ?? []);
  const borneOut = tests.findIndex(({ confirmed }) => !confirmed);
  const carrying = borneOut > 0 ? tests.slice(0, borneOut) : tests;
  return carrying.flatMap(({ kitId }) => kitId ?? []);
}
