import { advised, measure } from '../../../alerts/advice.ts';
import { type Evidence, type Finding, plainFinding } from '../../../alerts/finding.ts';
import { capitalized } from '../../../platform/words/capitals.ts';
import { numberWords, withSign } from '../../../platform/words/numbers.ts';
import type { KitJudgement } from '../../../science/control/kit.ts';
import type { KitEvidence } from '../../../science/control/kit-evidence.ts';
import { say } from '../../../water/quantities/quantities.ts';
import type { KitFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { kitEnded } from '../endings/things.ts';
import { isSuspect, judgedKit, smallestPercent, suspectedPercent } from '../levels/kit-bias.ts';
import { dateOfDay, figure, percent, quantityNamed, readingEvidence, study } from '../shared/words.ts';
import { putAwayFindings } from './put-away.ts';

const parameters = {
  named: {
    label: 'Say it reads wrong when chance alone is below',
    unit: '%',
    default: 1,
    low: 0.1,
    high: 5,
    source: `${study}: 1 in 100 kits named wrongly; only a standard or a third bottle names one`,
  },
  suspected: {
    label: 'Suspect it when chance alone is below',
    unit: '%',
    default: suspectedPercent,
    low: 0.1,
    high: 20,
    source: `${study}: about 1 in 20 true kits suspected in all its life, 99 in 100 alkalinity kits that read 10 % low within two weeks of daily tests`,
  },
  smallest: {
    label: 'Ignore errors smaller than',
    unit: '%',
    default: smallestPercent,
    low: 1,
    high: 30,
    source: `${study}: a bias of 5 % can hardly be told by a farm’s means; own choice`,
  },
};

/** A kit that reads low or high. */
export const kitBiased = defineRule({
  name: 'kit-biased',
  heading: 'Kit reads wrong',
  watches:
    'Compares the readings before and after a kit was opened, and its checks against a standard. A step between two bottles says that they differ, not which is wrong: it asks for a standard. With a standard or a third bottle it says that a kit reads wrong when chance alone is below 1 %, and suspects it below 5 %. It also says what its readings would be without the error.',
  byKind: false,
  parameters,
  quietHours: 24,
  ended: kitEnded,
  evaluate(facts, settings) {
    const inUse = facts.kits
      .map((kit) => finding(facts, kit, settings()))
      .filter((one): one is Finding => one !== null);
    const told = new Set(inUse.map(({ subject }) => subject.id));
    return [...inUse, ...putAwayFindings(facts, 'kit-biased').filter(({ subject }) => !told.has(subject.id))];
  },
});

type Settings = Values<typeof parameters>;

function finding(facts: SystemFacts, kit: KitFact, values: Settings): Finding | null {
  const judged = judgedKit(kit);
  if (judged.before !== null && judged.before.other !== '') {
    const { other } = judged.before;
    // Of a bottle that nobody uses any more there is nothing left to do, and its alert would end and open at each evaluation.
    const inUse = facts.kits.some(({ id }) => id === other);
    return inUse ? otherFinding(facts, kit, judged, judged.before, values) : null;
  }
  const { bias, p, verdict } = judged;
  if (bias === null || p === null || Math.abs(bias) * 100 < values.smallest) return null;
  if (p * 100 >= 2 * values.suspected) return null;
  const sure = p * 100 < values.named;
  const certain = sure && verdict.startsWith('reads');
  const direction = bias < 0 ? 'low' : 'high';
  const shared = {
    ...about(facts, kit.id, kit.id, bias, judged.sd ?? 0, values),
    status: isSuspect(judged, values.suspected) ? 'fires' : 'stays',
    figures: figuresOf(facts, kit, judged),
    evidence: evidenceOf(facts, kit),
  } as const;
  if (judged.by === 'two bottles')
    return { ...shared, severity: sure ? 'today' : 'watch', ...differWords(facts, kit, judged, bias) };
  return {
    ...shared,
    severity: certain ? 'today' : 'watch',
    title: certain
      ? `${kit.label}: the kit reads ${direction}`
      : `${kit.label}: kit or water, the kit is a suspect`,
    why: whyOf(facts, kit, bias, certain),
    ...advised(
      measure(
        certain
          ? 'Put this kit away and open another. Test one sample with both, three times each. Change nothing in the water on its readings.'
          : 'Test the standard in duplicate, or this kit against another on one sample, three times each. Change nothing in the water before.',
      ),
    ),
  };
}

/** What every finding on a kit says of it; `shown`: the kit whose page it leads to. */
function about(facts: SystemFacts, id: string, shown: string, bias: number, sd: number, values: Settings) {
  const direction = bias < 0 ? 'low' : 'high';
  return {
    ...plainFinding,
    rule: 'kit-biased',
    subject: { type: 'kit' as const, id },
    systemId: facts.systemId,
    href: `/water/kits/${shown}`,
    score: Math.abs(bias * 100) / values.smallest,
    numbers: `${percent(Math.abs(bias))} ${direction}, ± ${percent(sd)}`,
    number: figure(`Reads ${direction} by`, Math.abs(bias * 100), 0, '%'),
    large: {
      text: withSign(bias, figure('', Math.abs(bias * 100), 0).text),
      unit: '%',
      more: `± ${percent(sd)}`,
    },
    limit: {
      ...figure('Suspected below', values.suspected, 0, '%'),
      source: parameters.suspected.source,
    },
  };
}

/** Two bottles differ: a standard today tells which of them is wrong. */
function differWords(facts: SystemFacts, kit: KitFact, { evidence, sd }: KitJudgement, bias: number) {
  const before = labelOf(facts, evidence.find(({ other = '' }) => other !== '')?.other ?? '');
  const direction = bias < 0 ? 'lower' : 'higher';
  return {
    title: `${kit.label}: it and the bottle before differ by ${percent(Math.abs(bias))}`,
    numbers: `${percent(Math.abs(bias))} ${direction}, ± ${percent(sd ?? 0)}`,
    why: `${kit.label} reads ${direction} than ${before} did. Either may be the wrong one, or the water moved with the change. Until a standard tells, levels are judged by both and the worse one counts.`,
    ...advised(
      measure(
        'Test a standard in duplicate today, or one sample with a third bottle, three times each. Change nothing in the water before.',
      ),
    ),
  };
}

/** The other bottle reads wrong: a standard or a third bottle has cleared this one. */
function otherFinding(
  facts: SystemFacts,
  kit: KitFact,
  judged: KitJudgement,
  { other, bias, sd }: NonNullable<KitJudgement['before']>,
  values: Settings,
): Finding | null {
  if (Math.abs(bias) * 100 < values.smallest) return null;
  const direction = bias < 0 ? 'low' : 'high';
  const label = labelOf(facts, other);
  return {
    ...about(facts, other, kit.id, bias, sd, values),
    status: 'fires',
    severity: 'watch',
    title: `${capitalized(label)}: it reads ${direction}, by ${judged.by === 'standard' ? 'the standard' : 'a third bottle'}`,
    figures: figuresOf(facts, kit, judged),
    why: `${kit.label} and ${label} differ, and ${judged.by === 'standard' ? 'a standard clears' : 'a third bottle agrees with'} ${kit.label}. So what ${label} read was too ${direction}; its readings are judged without that. The water did not change with the bottle.`,
    ...advised(measure(`Go on with ${kit.label}. Put ${label} away where it is still in use.`)),
    evidence: evidenceOf(facts, kit),
  };
}

/** What a bottle is called, as far as it is known here. */
const labelOf = ({ kits, visitingKits, kitsPutAway }: SystemFacts, id: string): string =>
  [...kits, ...visitingKits, ...kitsPutAway].find((kit) => kit.id === id)?.label ?? 'the bottle before';

/** How likely as much would be by chance alone, as people say it. */
function chanceWords(p: number | null): string {
  if (p === null || p < 0.001) return 'almost surely not chance';
  return `chance alone: about 1 time in ${numberWords(Math.round(1 / p), 0)}`;
}

const fromWords: Record<KitEvidence['from'], string> = {
  'opening step': 'Step when it was opened',
  checks: 'Mean of its checks',
  pairs: 'Beside another bottle',
};

function figuresOf(facts: SystemFacts, kit: KitFact, { evidence, p }: KitJudgement): Finding['figures'] {
  return [
    ...evidence.map(({ from, bias, sd, count }) => ({
      label: fromWords[from],
      text: `${withSign(bias, numberWords(Math.abs(bias * 100), 1))} % ± ${numberWords(sd * 100, 1)} %, from ${count} ${from === 'checks' ? 'tests' : 'readings a side'}`,
    })),
    { label: 'Chance or real', text: chanceWords(p) },
    { label: 'Opened', text: dateOfDay(kit.openedDay, facts) },
  ];
}

function whyOf(facts: SystemFacts, kit: KitFact, bias: number, certain: boolean): string {
  const quantity = quantityNamed(facts, kit.quantityCode);
  const own = kit.systems.flatMap(({ readings }) => readings.filter(({ kitId }) => kitId === kit.id));
  const newest = own.at(-1);
  if (newest === undefined) return 'No reading was made with it yet.';
  const tests =
    own.length === 1 ? 'the test with this kit reads' : `the ${own.length} tests with this kit read`;
  const last = `The last, ${say(quantity, newest.value)}, should be about ${say(quantity, newest.value / (1 + bias))}.`;
  const side = bias < 0 ? 'low' : 'high';
  return certain
    ? `T${tests.slice(1)} ${side}. ${last} The water did not change.`
    : `If it is the kit, ${tests} ${side}. ${last}`;
}

const shownReadings = 12;

function evidenceOf(facts: SystemFacts, kit: KitFact): Evidence[] {
  const quantity = quantityNamed(facts, kit.quantityCode);
  const checks = kit.checks.map(
    ({ id, at, value, standard }): Evidence => ({
      kind: 'check',
      id,
      at,
      text: say(quantity, value),
      note: `of a standard of ${say(quantity, standard)}`,
    }),
  );
  const around = kit.systems.flatMap(({ name, firstDay, readings }) => {
    const near = readings.filter(({ day }) => Math.abs(day - firstDay) < shownReadings);
    const here = (own: boolean) => near.filter(({ kitId }) => (kitId === kit.id) === own);
    return [
      ...readingEvidence(quantity, here(true), `${name}, with this kit`),
      ...readingEvidence(quantity, here(false), `${name}, with another kit`),
    ];
  });
  return [...checks, ...around].sort((a, b) => b.at.localeCompare(a.at));
}
