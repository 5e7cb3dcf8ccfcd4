import {
  type CheckOccasion,
  checkError,
  judgeKit,
  type KitEvidence,
  type KitJudgement,
  openingStep,
  usualStep,
} from '../../science/control/kit.ts';
import type { KitFact, ReadingFact } from '../facts/types.ts';

/** Wandering of moving water over the window, relative, where a system's own is not known yet: simulation study. */
const usualWander: Readonly<Record<string, number>> = { alkalinity: 0.03, nitrate: 0.1 };
const otherWander = 0.05;
/** A system's own wandering is learnt from a dozen windows at most, so it is not taken for less than this. */
const smallestWander = 0.01;
/** Tests of a standard within this many hours are one occasion. */
const occasionHours = 6;
/** What a farm's standard is known to, relative. */
const standardSd = 0.01;
const window = 14;

/** What hints at a kit's bias, and what it comes to. */
export function judgeKitFact(kit: KitFact): KitJudgement {
  return judgeKit([...kit.systems.map((system) => stepIn(kit, system)), checksOf(kit)]);
}

/** The step of one system's readings where this kit replaced the others. */
function stepIn(kit: KitFact, { firstDay, readings }: KitFact['systems'][number]): KitEvidence | null {
  const relied = readings.filter(({ trust, below, value }) => trust !== 'unconfirmed' && !below && value > 0);
  const before = relied.filter((r) => r.day < firstDay && r.kitId !== kit.id);
  const after = relied.filter((r) => r.day >= firstDay && r.kitId === kit.id);
  const u = relativeU(after.length > 0 ? after : before);
  if (u === null || before.length === 0 || after.length === 0) return null;
  const own = usualStep(relied, openingsOf(relied), u, window);
  const wander = Math.max(smallestWander, own ?? usualWander[kit.quantityCode] ?? otherWander);
  return openingStep([...before, ...after], firstDay, u, wander, window);
}

/** Days on which a kit was first used in this water. */
function openingsOf(readings: readonly ReadingFact[]): number[] {
  const first = new Map<string, number>();
  for (const { kitId, day } of readings) {
    if (kitId !== null && !first.has(kitId)) first.set(kitId, day);
  }
  return [...first.values()];
}

function checksOf({ checks }: KitFact): KitEvidence | null {
  const [first] = checks;
  if (first === undefined) return null;
  const occasions: (CheckOccasion & { until: number })[] = [];
  for (const { day, standard, value } of checks) {
    const open = occasions.at(-1);
    if (open !== undefined && open.known === standard && day <= open.until) {
      open.tests = [...open.tests, value];
    } else {
      occasions.push({
        tests: [value],
        known: standard,
        knownSd: standardSd,
        until: day + occasionHours / 24,
      });
    }
  }
  return checkError(occasions, first.u / first.standard);
}

/** The tests' relative standard uncertainty. */
function relativeU(readings: readonly ReadingFact[]): number | null {
  if (readings.length === 0) return null;
  return readings.reduce((sum, { u, value }) => sum + u / value, 0) / readings.length;
}
