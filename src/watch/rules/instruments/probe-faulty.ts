import { type Advice, advised, air, measure, noted } from '../../../alerts/advice.ts';
import { type Evidence, type Finding, mostUrgent, plainFinding } from '../../../alerts/finding.ts';
import { plural } from '../../../platform/words/numbers.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { nameInSentence } from '../../../water/quantities/name.rules.ts';
import { say } from '../../../water/quantities/quantities.ts';
import { momentOfDay, type ProbeFact, type SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { probeEnded } from '../endings/things.ts';
import { quantityNamed } from '../shared/words.ts';
import { devicesOf } from './device-silent.ts';
import { doubtedProbeFinding } from './probe-doubted.ts';
import { type ProbeFlaw, type ProbeParameters, probeFlaws } from './probe-flaws.ts';

const parameters = {
  silentIntervals: {
    label: 'Silent after so many of its usual intervals',
    unit: '',
    default: 5,
    low: 2,
    high: 100,
    source: 'own choice: one or two reports are lost on any network',
  },
  stuckHours: {
    label: 'Stuck when it shows the same for',
    unit: 'h',
    default: 12,
    low: 2,
    high: 72,
    source: 'own choice, and three times as long as ever before: pH and temperature swing with day and night',
  },
  impossiblePercent: {
    label: 'Faulty when impossible values make up',
    unit: '%',
    default: 1,
    low: 0.1,
    high: 50,
    source: 'own choice: more than a stray value now and then',
  },
  noiseTimes: {
    label: 'Noisy when it wavers so many times more than in a standard',
    unit: 'times',
    default: 5,
    low: 2,
    high: 50,
    source: 'own choice; steady in the buffer and wild in the tank is an electrical fault (common practice)',
  },
  spikesPercent: {
    label: 'Spiking when stray values make up',
    unit: '%',
    default: 2,
    low: 0.5,
    high: 30,
    source: 'own choice: more than a stray value now and then',
  },
} as const;

/** A probe that cannot be trusted: silent, stuck, spiking, saying what cannot be, or without a vote beside tests by hand. */
export const probeFaulty = defineRule({
  name: 'probe-unwell',
  heading: 'Probe silent, stuck, drifting, spiking or impossible',
  watches:
    'Each probe’s last two days: whether it still reports, whether it shows the same for longer than ever before, whether its values jump, and how many cannot be true of water at all; over ten days whether it still swings with the day, agrees with tests by hand, is calibrated, and does not step when lamps switch. That goes for values that are read off as well. What cannot be is never averaged into a figure.',
  byKind: false,
  parameters,
  quietHours: 2,
  untried: 'This rule looks at what probes reported in the last two days, so it cannot be tried on the past.',
  ended: probeEnded,
  evaluate(facts, settings, now) {
    const found = facts.probes
      .map((probe) => finding(facts, probe, settings(), now))
      .filter((one): one is Finding => one !== null);
    const told = new Set(found.filter(({ status }) => status === 'fires').map(({ subject }) => subject.id));
    const doubted = facts.probeVotes
      .filter(({ trace }) => trace.kitId === null || !told.has(trace.kitId))
      .map((vote) => doubtedProbeFinding(facts, vote, now))
      .filter((one): one is Finding => one !== null);
    const replaced = new Set(doubted.map(({ subject, facet }) => (facet === '' ? subject.id : '')));
    return [...found.filter(({ subject }) => !replaced.has(subject.id)), ...doubted];
  },
});

function finding(
  facts: SystemFacts,
  probe: ProbeFact,
  values: Values<typeof parameters>,
  now: Date,
): Finding | null {
  const quantity = quantityNamed(facts, probe.quantityCode);
  const kit = [...facts.kits, ...facts.visitingKits].find(({ id }) => id === probe.kitId);
  const before = (facts.readings.get(probe.quantityCode) ?? []).filter(({ kitId }) => kitId === probe.kitId);
  const around = {
    quantity,
    checks: kit?.checks ?? [],
    before,
    today: dayOf(now),
    timeZone: facts.timeZone,
    sources: Object.fromEntries(
      Object.entries(parameters).map(([name, { source }]) => [name, source]),
    ) as Record<keyof ProbeParameters, string>,
  };
  const flaws = probeFlaws(probe, values, around);
  const [first] = flaws;
  if (first === undefined) return null;
  return {
    ...plainFinding,
    rule: 'probe-unwell',
    subject: { type: 'kit', id: probe.kitId },
    systemId: facts.systemId,
    href: `/water/kits/${probe.kitId}`,
    status: flaws.some(({ fires }) => fires) ? 'fires' : 'stays',
    severity: mostUrgent(flaws.map(({ severity }) => severity)),
    score: Math.max(...flaws.map(({ score }) => score)),
    title: `${facts.name}, ${probe.label}: ${first.short}`,
    numbers: flaws.map(({ words }) => words).join('; '),
    number: first.number,
    limit: first.limit,
    figures: flaws.map(({ words }) => ({ label: 'Seen', text: words })),
    why: 'Until the probe is checked nobody knows this value, and a controller that follows it may do harm.',
    ...advised(
      ...powerFirst(facts.probes, probe, around.today),
      measure(
        `${first.step} Do not use its values until then. Test ${nameInSentence(quantity.name)} by hand. Take the probe out of whatever it controls.`,
      ),
    ),
    evidence: evidenceOf(facts, probe, first),
    causes: flaws.every(({ isSilence }) => isSilence) ? devicesOf(facts, probe.kitId) : [],
  };
}

/** Probes that fell silent within these minutes of each other share what feeds them; own choice. */
const atOnceMinutes = 30;

/** Two probes that fall silent at one moment say that the power or the flow may be gone. */
function powerFirst(probes: readonly ProbeFact[], probe: ProbeFact, today: number): Advice[] {
  const atOnce = probes.filter(
    ({ lastDay, everyMinutes }) =>
      lastDay !== null &&
      probe.lastDay !== null &&
      Math.abs(lastDay - probe.lastDay) * 1440 <= atOnceMinutes &&
      (today - lastDay) * 1440 > Math.max(missedReports * everyMinutes, atOnceMinutes),
  );
  if (atOnce.length < 2) return [];
  const names = atOnce.map(({ label }) => label).join(', ');
  return [
    noted(
      air('Go there first. See that the power is on and that water moves.'),
      `${plural(atOnce.length, 'probe', 'probes')} fell silent at one moment: ${names}.`,
    ),
  ];
}

/** So many reports that did not come are silence (two missed intervals: common practice, no source). */
const missedReports = 2;

const shown = 12;

function evidenceOf(
  facts: SystemFacts,
  { kitId, quantityCode, samples }: ProbeFact,
  flaw: ProbeFlaw,
): Evidence[] {
  const quantity = quantityNamed(facts, quantityCode);
  const told = flaw.samples ?? samples;
  return told
    .slice(-shown)
    .map(
      ({ day, value }): Evidence => ({
        kind: 'probe',
        id: kitId,
        at: momentOfDay(day).toISOString(),
        text: say(quantity, value),
        note:
          flaw.samples === undefined
            ? ''
            : `one of ${plural(flaw.samples.length, 'such value', 'such values')}`,
      }),
    )
    .reverse();
}
