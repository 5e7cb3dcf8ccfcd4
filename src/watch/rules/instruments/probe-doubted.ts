import { advised, measure } from '../../../alerts/advice.ts';
import { type Finding, plainFinding } from '../../../alerts/finding.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { harmOf } from '../../../water/acute/harm.rules.ts';
import { say } from '../../../water/quantities/quantities.ts';
import { handTests } from '../../facts/probe-votes.ts';
import { momentOfDay, type ProbeVote, type SystemFacts } from '../../facts/types.ts';
import { amount, figure, nameOf, quantityNamed } from '../shared/words.ts';

/** Where to look, by what is wrong. */
const steps: Readonly<Record<NonNullable<ProbeVote['doubt']>['kind'], string>> = {
  flat: 'Take it out, rinse it, put it into a standard and back. See whether the value moves',
  'noisy and flat': 'Take it out, rinse it, put it into a standard and back. See whether the value moves',
  off: 'Check it in a standard, and calibrate or replace it',
  drifting: 'Clean it, check it in a standard, and calibrate it or replace it',
  'out of calibration': 'Calibrate it, and note the check in a standard',
  switched:
    'Keep hands out of the water. Look for a lamp or pump that leaks current: switch them one by one. Have a licensed electrician mend it',
};

/** What a probe without a vote is called: by its kit, else by its system and what it measures. */
const subjectOf = (facts: SystemFacts, { kitId, code, methodId }: ProbeVote['trace']) =>
  kitId === null
    ? {
        subject: { type: 'system' as const, id: facts.systemId },
        facet: `${code} ${methodId}`,
        href: `/water/systems/${facts.systemId}?quantity=${code}`,
      }
    : { subject: { type: 'kit' as const, id: kitId }, facet: '', href: `/water/kits/${kitId}` };

/** A test by hand is as good as now for so long; own choice: what harms in hours is read each hour. */
const freshHours = 1;

function byHand(facts: SystemFacts, code: string, now: Date): string {
  const last = handTests(facts.readings.get(code)).at(-1);
  return last !== undefined && dayOf(now) - last.day <= freshHours / 24
    ? `Go by the tests of ${nameOf(facts, code)} by hand.`
    : `Test ${nameOf(facts, code)} by hand now and go by that.`;
}

/** A probe whose values count for nothing until it is checked; null where they count. */
export function doubtedProbeFinding(
  facts: SystemFacts,
  { trace, doubt }: ProbeVote,
  now: Date,
): Finding | null {
  if (doubt === null) return null;
  const quantity = quantityNamed(facts, trace.code);
  const last = trace.samples.at(-1);
  const hours = ((last?.day ?? doubt.sinceDay) - doubt.sinceDay) * 24;
  return {
    ...plainFinding,
    rule: 'probe-unwell',
    ...subjectOf(facts, trace),
    systemId: facts.systemId,
    status: 'fires',
    severity: harmOf(trace.code) === 'weeks' ? 'watch' : 'today',
    score: 1,
    title: `${facts.name}, ${trace.label} of ${nameOf(facts, trace.code)}: not used until it is checked`,
    numbers: doubt.words,
    number: {
      ...figure('Doubted for', Math.max(0, hours), 0, 'h'),
      ...(hours < 1 ? { text: 'under 1' } : {}),
    },
    limit: { ...amount(quantity, 'It shows', last?.value ?? 0), source: 'what the probe itself shows' },
    figures: [{ label: 'Seen', text: `It ${doubt.words}.` }],
    why: 'Until the probe is checked nobody knows this value, and a controller that follows it may do harm.',
    ...advised(
      measure(
        `${byHand(facts, trace.code, now)} ${steps[doubt.kind]}. Take it out of whatever it controls until then.`,
      ),
    ),
    evidence: trace.samples.slice(-6).map(({ day, value }) => ({
      kind: 'probe',
      id: trace.kitId ?? trace.methodId,
      at: momentOfDay(day).toISOString(),
      text: say(quantity, value),
      note: '',
    })),
  };
}
