import { type CheckOccasion, checkError } from '../../science/control.ts';
import { type MethodFigures, uncertaintyOf } from '../entry/entry.rules.ts';
import { type Quantity, sayDifference } from '../quantities/quantities.ts';

/** One check as the rules see it; canonical unit. `day`: the farm's own day, so that tests made together count as one. */
export interface CheckTest {
  day: string;
  standardValue: number;
  value: number;
}

/** How much better than the test a standard is taken to be known: a third, as checking a kit needs. */
const standardShare = 1 / 3;

/** What all checks of a kit say together, in one sentence. */
export function checksVerdict(
  checks: readonly CheckTest[],
  method: MethodFigures,
  quantity: Quantity,
): string {
  const usable = checks.filter((check) => check.standardValue > 0);
  const [first] = usable;
  if (first === undefined)
    return 'Not checked yet. Two tests of a standard of known value show whether the kit reads right.';
  const u = uncertaintyOf(first.standardValue, method) / first.standardValue;
  const found = checkError(occasions(usable, u * standardShare), u);
  if (found === null) return 'Not checked yet.';
  const size = (share: number) =>
    sayDifference(quantity, Math.abs(share) * first.standardValue, first.standardValue);
  const bias = found.limited ?? found.bias;
  const count = `${found.count} ${found.count === 1 ? 'check' : 'checks'}`;
  if (Math.abs(bias) <= 2 * found.sd) {
    return `${count}: reads right. Off by ${size(found.bias)}; chance alone can give ${size(2 * found.sd)}.`;
  }
  const way = bias > 0 ? 'high' : 'low';
  return `${count}: reads ${way} by about ${size(found.bias)}. Chance alone would give ${size(2 * found.sd)}. Check with a fresh standard, then with another kit.`;
}

function occasions(checks: readonly CheckTest[], knownSd: number): CheckOccasion[] {
  const groups = Map.groupBy(checks, (check) => `${check.day} ${check.standardValue}`);
  return [...groups.values()].map((group) => ({
    tests: group.map((check) => check.value),
    known: group[0]?.standardValue ?? Number.NaN,
    knownSd,
  }));
}
