import { type Advice, advised, measure, noted } from '../../../alerts/advice.ts';
import { type Finding, plainFinding } from '../../../alerts/finding.ts';
import { numberWords, plural } from '../../../platform/words/numbers.ts';
import type { KitPutAwayFact, SystemFacts } from '../../facts/types.ts';
import { dateOfDay, figure, nameOf } from '../shared/words.ts';

/** Tests of a new kit beside the old one, or of a standard, before it is relied on (common practice: three of each). */
export const newKitTests = 3;

/** A kit opened this long before another was put away was opened to replace it (own choice). */
const openedBeforeDays = 14;

type Other = KitPutAwayFact['others'][number];

/** The kit that stands in for one that was put away: the best tested of those used here since or opened for it. */
export function successorOf({ others, day }: KitPutAwayFact): Other | null {
  const meant = others.filter(({ usedHere, openedDay }) => usedHere || openedDay >= day - openedBeforeDays);
  return meant.toSorted((a, b) => b.tested - a.tested)[0] ?? null;
}

/** Whether a kit that was put away is replaced by one that was tested. */
export const isReplaced = (kit: KitPutAwayFact): boolean => (successorOf(kit)?.tested ?? 0) >= newKitTests;

/** The key of "no kit in use" for a quantity of a system. */
export const kitMissingKey = (systemId: string, quantityCode: string) => ({
  rule: 'kit-missing',
  subject: { type: 'system' as const, id: systemId },
  facet: quantityCode,
});

/**
 * What a rule on kits says of those that were put away and are not replaced by a tested one: it keeps an alert open, and
 * opens none.
 */
export function putAwayFindings(facts: SystemFacts, rule: string): Finding[] {
  return facts.kitsPutAway.filter((kit) => !isReplaced(kit)).map((kit) => finding(facts, kit, rule));
}

function finding(facts: SystemFacts, kit: KitPutAwayFact, rule: string): Finding {
  const name = nameOf(facts, kit.quantityCode);
  const next = successorOf(kit);
  const tested = next?.tested ?? 0;
  return {
    ...plainFinding,
    rule,
    subject: { type: 'kit', id: kit.id },
    systemId: facts.systemId,
    href: `/water/kits/${next?.id ?? kit.id}`,
    status: 'stays',
    severity: next === null ? 'today' : 'watch',
    score: 1,
    title:
      next === null
        ? `${facts.name}: no ${name} kit in use`
        : `${next.label}: the new kit is not checked yet`,
    numbers: `put away ${dateOfDay(kit.day, facts)}; ${numberWords(tested)} of ${newKitTests} tests done`,
    number: figure('Tests of the new kit', tested, 0),
    limit: {
      ...figure('Needed', newKitTests, 0),
      source: 'common practice: one sample with both kits, three times each, or a standard',
    },
    why: 'Until both kits were tested side by side, a jump between them looks like a jump in the water.',
    ...advised(next === null ? openAnother(name) : testBoth(next, kit)),
    causes: next === null ? [kitMissingKey(facts.systemId, kit.quantityCode)] : [],
  };
}

/** What to do where no kit is there. */
export const openAnother = (name: string): Advice =>
  noted(
    measure(
      `Open another kit for ${name}. Test one sample with it and the old one, three times each, or a standard three times.`,
    ),
    `Until then nothing new is known of ${name} here.`,
  );

const testBoth = ({ label, tested }: Other, old: KitPutAwayFact): Advice =>
  noted(
    measure(
      `Test one sample with ${label} and ${old.label}, three times each, or a standard three times. Enter the tests on the page of ${label}. Change nothing in the water on a step between the two before that.`,
    ),
    `${plural(newKitTests - tested, 'test', 'tests')} to go.`,
  );
