import { advised, measure } from '../../../alerts/advice.ts';
import { type Evidence, type Finding, plainFinding } from '../../../alerts/finding.ts';
import { numberWords, plural } from '../../../platform/words/numbers.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { say } from '../../../water/quantities/quantities.ts';
import type { KitFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { kitEnded } from '../endings/things.ts';
import { agreesWithTheBottleBefore } from '../levels/kit-bias.ts';
import { dateOfDay, figure, quantityNamed, study } from '../shared/words.ts';
import { putAwayFindings } from './put-away.ts';

const parameters = {
  openDays: {
    label: 'Old when opened longer ago than',
    unit: 'days',
    default: 365,
    low: 30,
    high: 1000,
    source: 'common practice: reagents once opened are used within a year; what the maker says goes before',
  },
  uncheckedWeeks: {
    label: 'Unchecked when not tested with a standard for',
    unit: 'weeks',
    default: 8,
    low: 1,
    high: 52,
    source: `own choice; the ${study} finds a biased nitrate kit only by a standard`,
  },
  inUseDays: {
    label: 'In use when used within',
    unit: 'days',
    default: 21,
    low: 1,
    high: 120,
    source: 'own choice: a bottle that stood for three weeks is not what the tests are made with',
  },
} as const;

/** A kit whose readings should not be leant on: past its date, old, empty, or unchecked. */
export const kitUnfit = defineRule({
  name: 'kit-unfit',
  heading: 'Kit expired, old, used up or unchecked',
  watches:
    'Kits in use that are past their date, were opened long ago, have had more tests than they are good for, or were not checked against a standard for weeks. Checks are only asked for where the farm checks kits, or keeps the quantity within a band.',
  byKind: false,
  parameters,
  quietHours: 0,
  ended: kitEnded,
  evaluate(facts, settings, now) {
    const today = dayOf(now);
    const all = [...facts.kits, ...facts.visitingKits];
    const farmChecks = all.some(({ checks }) => checks.length > 0);
    const inUse = facts.kits
      .filter((kit) => !kit.laboratory && !kit.probe)
      .map((kit) => finding(facts, kit, { values: settings(), today, farmChecks }))
      .filter((one): one is Finding => one !== null);
    return [...inUse, ...putAwayFindings(facts, 'kit-unfit')];
  },
});

interface Around {
  values: Values<typeof parameters>;
  today: number;
  farmChecks: boolean;
}

/** One thing that speaks against a kit; `score` 1 where it begins to. */
interface Flaw {
  words: string;
  short: string;
  score: number;
  number: Finding['number'];
  limit: Finding['limit'];
  step: string;
}

const replaced = 'Open another. Test one sample with both before you put this one away.';

function finding(facts: SystemFacts, kit: KitFact, around: Around): Finding | null {
  const own = kit.systems.flatMap(({ readings }) => readings.filter(({ kitId }) => kitId === kit.id));
  const last = own.reduce((latest, { day }) => Math.max(latest, day), Number.NEGATIVE_INFINITY);
  if (around.today - last > around.values.inUseDays) return null;
  const flaws = [
    expired(facts, kit, around),
    usedUp(kit),
    old(facts, kit, around),
    unchecked(facts, kit, around),
  ].filter((flaw): flaw is Flaw => flaw !== null);
  const [first] = flaws;
  if (first === undefined) return null;
  return {
    ...plainFinding,
    rule: 'kit-unfit',
    subject: { type: 'kit', id: kit.id },
    systemId: facts.systemId,
    href: `/water/kits/${kit.id}`,
    status: 'fires',
    severity: 'watch',
    score: Math.max(...flaws.map(({ score }) => score)),
    title: `${kit.label}: ${flaws.map(({ short }) => short).join(', ')}`,
    numbers: first.words,
    number: first.number,
    limit: first.limit,
    figures: flaws.map(({ words }) => ({ label: 'Against it', text: words })),
    why: 'A kit like this may still read right, but nobody knows. A falsely low reading leads to an overdose, a falsely high one hides a fall.',
    ...advised(measure(first.step)),
    evidence: lastChecks(facts, kit),
  };
}

function expired(facts: SystemFacts, { expiresDay }: KitFact, { today }: Around): Flaw | null {
  // The day itself still counts.
  if (expiresDay === null || today < expiresDay + 1) return null;
  const days = Math.floor(today - expiresDay);
  return {
    words: `its date was ${dateOfDay(expiresDay, facts)}`,
    short: 'past its date',
    score: 1 + days / 90,
    number: figure('Past its date by', days, 0, 'days'),
    limit: { ...figure('Its date', 0, 0, 'days'), source: 'as printed on the kit' },
    step: replaced,
  };
}

function usedUp({ uses, used }: KitFact): Flaw | null {
  if (uses === null || used < uses) return null;
  return {
    words: `${plural(used, 'test', 'tests')} were made with it, good for ${numberWords(uses)}`,
    short: 'used up',
    score: 1 + (used - uses) / uses,
    number: figure('Tests made', used, 0, ''),
    limit: { ...figure('Good for', uses, 0, ''), source: 'as entered when the kit was opened' },
    step: replaced,
  };
}

function old(facts: SystemFacts, { openedDay }: KitFact, { today, values }: Around): Flaw | null {
  const days = Math.floor(today - openedDay);
  if (days <= values.openDays) return null;
  return {
    words: `opened ${dateOfDay(openedDay, facts)}, ${numberWords(days)} days ago`,
    short: 'open for long',
    score: days / values.openDays,
    number: figure('Open for', days, 0, 'days'),
    limit: { ...figure('Used within', values.openDays, 0, 'days'), source: parameters.openDays.source },
    step: 'Test a standard of known value twice. If it reads right, check it monthly. If not, open another.',
  };
}

function unchecked(facts: SystemFacts, kit: KitFact, { today, values, farmChecks }: Around): Flaw | null {
  const kept = facts.kept.get(kit.quantityCode);
  const matters = kept !== undefined && !kept.starting && (kept.bandLow !== null || kept.bandHigh !== null);
  if (!farmChecks && !matters) return null;
  const last = kit.checks.at(-1)?.day ?? null;
  const weeks = (today - Math.max(last ?? 0, kit.openedDay)) / 7;
  const witnesses = agreesWithTheBottleBefore(kit) ? 2 : 1;
  if (weeks <= witnesses * values.uncheckedWeeks) return null;
  const since = last === null ? 'never checked against a standard' : `last checked ${dateOfDay(last, facts)}`;
  return {
    words: `${since}, in use for ${plural(Math.floor((today - kit.openedDay) / 7), 'week', 'weeks')}`,
    short: 'unchecked',
    score: weeks / values.uncheckedWeeks,
    number: figure(last === null ? 'In use unchecked for' : 'Unchecked for', weeks, 0, 'weeks'),
    limit: {
      ...figure('Checked every', witnesses * values.uncheckedWeeks, 0, 'weeks'),
      source: `${parameters.uncheckedWeeks.source}${witnesses === 1 ? '' : '; twice as long for a bottle that reads as the one before it'}`,
    },
    step: 'Test a standard of known value twice and enter both on the kit’s page.',
  };
}

function lastChecks(facts: SystemFacts, { checks, quantityCode }: KitFact): Evidence[] {
  const quantity = quantityNamed(facts, quantityCode);
  return checks
    .slice(-4)
    .map(
      ({ id, at, value, standard }): Evidence => ({
        kind: 'check',
        id,
        at,
        text: say(quantity, value),
        note: `of a standard of ${say(quantity, standard)}`,
      }),
    )
    .reverse();
}
