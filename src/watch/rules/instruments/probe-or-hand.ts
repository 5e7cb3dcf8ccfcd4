import { advised, measure } from '../../../alerts/advice.ts';
import { type Evidence, type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { lowered } from '../../../platform/words/capitals.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { combine } from '../../../science/statistics/uncertainty.ts';
import { harmOf } from '../../../water/acute/harm.rules.ts';
import { say, sayDifference } from '../../../water/quantities/quantities.ts';
import { differLimit, handPairs } from '../../../water/trust/probe-doubt.rules.ts';
import { handTests } from '../../facts/probe-votes.ts';
import { momentOfDay, type QuantityFact, type ReadingFact, type SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { sourcesEnded } from '../endings/things.ts';
import { bearableLevels, precautionOf } from '../levels/danger.ts';
import { amount, nameOf, quantityNamed } from '../shared/words.ts';

const parameters = {
  days: {
    label: 'Tell of sources that disagree for',
    unit: 'd',
    default: 2,
    low: 0.5,
    high: 14,
    source: 'own choice: the water has moved on after that',
  },
};

const name = 'sources-differ';

/** Two sources that say different things of one water: a probe and a test by hand, two methods, or two kits. */
export const probeOrHand = defineRule({
  name,
  heading: 'Probe or hand?',
  watches:
    'Warns when a test by hand and a probe, two methods or two kits disagree by more than their errors, and says which test decides. Neither refutes the other: the more dangerous of the two is taken care of until then. Two tests by hand that agree decide against a probe.',
  byKind: false,
  parameters,
  quietHours: 2,
  untried:
    'This rule looks at what probes showed beside tests by hand, which is kept for ten days, so it cannot be tried on the past.',
  ended: sourcesEnded,
  evaluate(facts, settings, now) {
    return [...facts.readings.keys()].flatMap((code) => {
      const differing =
        probeAgainstHand(facts, code, settings(), now) ?? twoTests(facts, code, settings(), now);
      return differing === null ? [] : [finding(facts, code, differing)];
    });
  },
});

/** One source's word on the level. */
interface Source {
  value: number;
  u: number;
  day: number;
  words: string;
  evidence: Pick<Evidence, 'kind' | 'id'>;
}

interface Differing {
  title: string;
  ask: string;
  sources: [Source, Source];
}

/** The last hand test against a probe that has a vote; null where they agree. */
function probeAgainstHand(
  facts: SystemFacts,
  code: string,
  { days }: Values<typeof parameters>,
  now: Date,
): Differing | null {
  const last = handTests(facts.readings.get(code)).at(-1);
  if (last === undefined || dayOf(now) - last.day > days) return null;
  for (const { trace, doubt } of facts.probeVotes) {
    if (trace.code !== code || doubt !== null) continue;
    const [pair] = handPairs(trace, [last]);
    if (pair === undefined || Math.abs(pair.by) <= pair.limit) continue;
    const { value, day } = pair.shown;
    const evidence = { kind: 'probe' as const, id: trace.kitId ?? trace.methodId };
    return {
      title: 'probe or hand?',
      ask: 'Test by hand once more, best with a third instrument: it decides. Ask when each of the two was last checked.',
      sources: [byHand(last), { value, u: trace.u, day, words: trace.label, evidence }],
    };
  }
  return null;
}

const byHand = ({ value, u, day, id }: ReadingFact, words = 'by hand'): Source => ({
  value,
  u,
  day,
  words,
  evidence: { kind: 'reading', id },
});

/** An unconfirmed test against one by another method, or another kit, near it; null where they agree or there is none. */
function twoTests(
  facts: SystemFacts,
  code: string,
  { days }: Values<typeof parameters>,
  now: Date,
): Differing | null {
  const all = handTests(facts.readings.get(code)).filter(({ hand }) => hand === '');
  const tests = all.filter(({ day }) => dayOf(now) - day <= days);
  const doubted = tests.findLast(({ trust }) => trust === 'unconfirmed');
  if (doubted === undefined) return null;
  const differs = (one: ReadingFact) =>
    Math.abs(one.value - doubted.value) > differLimit * combine(one.u, doubted.u);
  const byMethod = tests.findLast((one) => one.methodId !== doubted.methodId && differs(one));
  if (byMethod !== undefined)
    return {
      title: 'the methods differ',
      ask: 'Test again by one of the two, or on a standard. Rely on the one that two results agree with.',
      sources: [byHand(doubted, 'by one method'), byHand(byMethod, 'by the other')],
    };
  const byKit = tests.findLast((one) => saysOtherwise(one, doubted, all) && differs(one));
  if (byKit === undefined) return null;
  return {
    title: 'the kits differ',
    ask: 'Test a standard with both, or one sample with a third kit, three times each. That a kit says the same again decides nothing.',
    sources: [byHand(doubted, 'by one kit'), byHand(byKit, 'by the other')],
  };
}

/** Whether a later test is by another kit than one that waits, with whose kit nothing fitted yet. */
const saysOtherwise = (one: ReadingFact, doubted: ReadingFact, all: readonly ReadingFact[]): boolean =>
  one.day >= doubted.day &&
  one.kitId !== null &&
  doubted.kitId !== null &&
  one.kitId !== doubted.kitId &&
  !all.some(({ kitId, trust }) => kitId === doubted.kitId && trust !== 'unconfirmed');

function finding(facts: SystemFacts, code: string, { title, ask, sources }: Differing): Finding {
  const quantity = quantityNamed(facts, code);
  const [one, other] = sources;
  const worse = moreDangerous(facts, code, sources);
  const by = Math.abs(one.value - other.value);
  const limit = differLimit * combine(one.u, other.u);
  const severity = severityOf(code, worse);
  const side = worse.value < (worse === one ? other : one).value ? 'below' : 'above';
  const precaution = severity === 'watch' ? null : precautionOf(code, side);
  const asked = severity === 'now' ? `Act now, within the hour: ${lowered(ask)}` : ask;
  const said = (source: Source) => `${say(quantity, source.value)} ${source.words}`;
  return {
    ...plainFinding,
    rule: name,
    subject: { type: 'system', id: facts.systemId },
    facet: code,
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}?quantity=${code}`,
    status: 'fires',
    doubted: true,
    severity,
    score: Math.max(1, by / limit),
    title: `${facts.name}: ${nameOf(facts, code)}, ${title}`,
    numbers: `${said(one)}, ${said(other)}`,
    number: {
      ...amount(quantity, 'They differ by', by),
      text: sayDifference(quantity, by, one.value),
      unit: '',
    },
    limit: {
      ...amount(quantity, 'Both errors together', limit),
      text: sayDifference(quantity, limit, one.value),
      unit: '',
      source: '1.96 times both standard uncertainties together (95 %)',
    },
    why: 'Nobody knows which of the two is right. Neither counts for less because it came later or from a machine.',
    ...advised(
      measure(
        `${asked} Act for ${say(quantity, worse.value)} meanwhile, the more dangerous of the two.${precaution === null ? '' : ` ${precaution}`} Correct nothing on either yet.`,
      ),
    ),
    evidence: sources.map((source) => evidenceOf(quantity, source)),
  };
}

const evidenceOf = (quantity: QuantityFact, { value, day, words, evidence }: Source): Evidence => ({
  ...evidence,
  at: momentOfDay(day).toISOString(),
  text: say(quantity, value),
  note: words,
});

/** The source whose value lies further out of the band, or of the safe range; else further from the middle of the usual. */
function moreDangerous(facts: SystemFacts, code: string, [one, other]: Differing['sources']): Source {
  const quantity = quantityNamed(facts, code);
  const kept = facts.kept.get(code);
  const low = kept?.bandLow ?? quantity.plausibleLow;
  const high = kept?.bandHigh ?? quantity.plausibleHigh;
  const off = ({ value }: Source) => Math.abs(value - (low + high) / 2);
  return off(other) > off(one) ? other : one;
}

function severityOf(code: string, { value }: Source): Severity {
  const { low, high } = bearableLevels(code);
  const harm = harmOf(code);
  if (harm === 'hours' && (value < low || value > high)) return 'now';
  return harm === 'weeks' ? 'watch' : 'today';
}
