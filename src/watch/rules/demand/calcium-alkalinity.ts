import { advised, measure, notUp } from '../../../alerts/advice.ts';
import { type Finding, plainFinding } from '../../../alerts/finding.ts';
import { CALCIUM_PER_ALKALINITY, COMMUNITY_RATIO, type Ratio } from '../../../science/calcification.ts';
import { type CalciumRatio, calciumRatio } from '../../../water/demand/calcium-ratio.rules.ts';
import { demandDay, demandRecord } from '../../../water/demand/demand-record.rules.ts';
import { unknownDosesOf, unknownIn } from '../../../water/demand/unknown-doses.rules.ts';
import { sayDifference } from '../../../water/quantities/quantities.ts';
import type { SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { waterEnded } from '../endings/water.ts';
import { kitJudgements } from '../levels/kit-bias.ts';
import { figure, quantityNamed, readingEvidence } from '../shared/words.ts';

const measured =
  'corals alone take 19 mg/L of calcium a meq/L, communities with sand or rock 25 (PeerJ 2, 2014, e249, 2.06 and 1.60 mol/mol), taken a little wider';

const parameters = {
  low: {
    label: 'Least calcium used per meq/L of alkalinity',
    unit: 'mg/L',
    default: COMMUNITY_RATIO.low,
    low: 5,
    high: 20,
    source: measured,
  },
  high: {
    label: 'Most calcium used per meq/L of alkalinity',
    unit: 'mg/L',
    default: COMMUNITY_RATIO.high,
    low: 21,
    high: 60,
    source: measured,
  },
  days: {
    label: 'Fewest days judged',
    unit: 'days',
    default: 56,
    low: 28,
    high: 112,
    source: 'own choice: 1 dKH of alkalinity takes only 7 mg/L of calcium, less than most kits tell',
  },
};

const shownDays = 56;

/** Calcium and alkalinity are not used together as calcification uses them. */
export const calciumAlkalinity = defineRule({
  name: 'calcium-alkalinity',
  heading: 'Calcium and alkalinity disagree',
  watches:
    'Works out how much calcium is used for each meq/L of alkalinity over eight weeks or more, doses and changes taken out. It speaks only where the whole 99 % interval lies outside what reef communities are measured to use, and never on a short span.',
  byKind: false,
  learns: true,
  parameters,
  quietHours: 7 * 24,
  ended: waterEnded('calcium', 'alkalinity'),
  evaluate(facts, settings, now) {
    const found = calciumRatio(
      demandRecord(facts, 'alkalinity', kitJudgements(facts)),
      demandRecord(facts, 'calcium', kitJudgements(facts)),
      demandDay(facts, 'calcium', now),
      { level: 0.99, shortest: settings().days },
    );
    if (
      found === null ||
      found.ratio === null ||
      ['alkalinity', 'calcium'].some(
        (code) => unknownIn(unknownDosesOf(facts, code), found.alkalinity).length > 0,
      )
    )
      return [];
    return judge(facts, found, found.ratio, settings());
  },
});

function judge(
  facts: SystemFacts,
  found: CalciumRatio,
  ratio: Ratio,
  values: Values<typeof parameters>,
): Finding[] {
  const side = ratio.low > values.high ? 'high' : ratio.high < values.low ? 'low' : null;
  if (side !== null) return [finding(facts, found, ratio, side, values, 'fires')];
  const near = ratio.value > values.high ? 'high' : ratio.value < values.low ? 'low' : null;
  return near === null ? [] : [finding(facts, found, ratio, near, values, 'stays')];
}

type Side = 'high' | 'low';

function finding(
  facts: SystemFacts,
  found: CalciumRatio,
  ratio: Ratio,
  side: Side,
  values: Values<typeof parameters>,
  status: 'fires' | 'stays',
): Finding {
  const limit = values[side];
  const shown = figure('Calcium used a meq/L of alkalinity', ratio.value, 0, 'mg/L');
  return {
    ...plainFinding,
    rule: 'calcium-alkalinity',
    subject: { type: 'system', id: facts.systemId },
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}/demand`,
    status,
    severity: 'watch',
    score: side === 'high' ? ratio.value / limit : limit / Math.max(1, ratio.value),
    title: titleOf(facts, ratio, side),
    numbers: `${shown.text} mg/L of calcium a meq/L (${Math.round(ratio.low)} to ${Math.round(ratio.high)}), calcification takes 20`,
    number: shown,
    limit: {
      ...figure(side === 'high' ? 'At most' : 'At least', limit, 0, 'mg/L'),
      source: `${parameters[side].source}. Calcification takes ${CALCIUM_PER_ALKALINITY.toFixed(2)} mg/L a meq/L.`,
    },
    figures: figuresOf(facts, found),
    ...advice[side],
    question:
      'Is every dose of both logged with the strength it has? The uses are worked out from the doses.',
    // What a doser gives less of than its log says looks like alkalinity used by itself.
    causes:
      side === 'low'
        ? [{ rule: 'alkalinity-falling', subject: { type: 'system', id: facts.systemId }, facet: '' }]
        : [],
    evidence: evidenceOf(facts, found),
  };
}

function titleOf({ name }: SystemFacts, { value }: Ratio, side: Side): string {
  const times = value / CALCIUM_PER_ALKALINITY;
  if (side === 'low') return `${name}: alkalinity is used without its calcium`;
  return times < 2.5
    ? `${name}: more calcium used than alkalinity explains`
    : `${name}: calcium is used ${Math.round(times)} times too fast`;
}

function figuresOf(facts: SystemFacts, { days, alkalinity, calcium, expected, resolved }: CalciumRatio) {
  const rate = (code: string, { perDay, level }: { perDay: number; level: number }) =>
    `${sayDifference(quantityNamed(facts, code), -perDay, level)} a day`;
  return [
    { label: `Alkalinity used, ${days} days`, text: rate('alkalinity', alkalinity) },
    { label: `Calcium used, ${days} days`, text: rate('calcium', calcium) },
    { label: 'Calcium that goes with that alkalinity', text: `${Math.round(expected)} mg/L in ${days} days` },
    { label: 'Smallest change two calcium tests can show', text: `${Math.round(resolved)} mg/L` },
  ];
}

const advice = {
  high: {
    why: 'Skeleton takes both in one ratio, and so do white crusts, so this much calcium cannot have gone that way: a calcium test that reads wrong or at another hour, a dose that is weaker than it says, or alkalinity that comes from somewhere.',
    ...advised(
      measure(
        'Test calcium against a standard, both at the same hour before the dose. Check the strength of the calcium dose.',
      ),
      measure('Change no dose before that.', notUp('dose', 'calcium')),
    ),
  },
  low: {
    why: 'Alkalinity also goes without calcium, where nitrate is made from food and changed out, or where the alkalinity dose is weaker than it says. It is not by itself a lack of calcium.',
    ...advised(
      measure('Test calcium against a standard. Check the strength of the alkalinity dose.'),
      measure('Raise no calcium dose on this alone.'),
    ),
  },
};

function evidenceOf(facts: SystemFacts, { calcium }: CalciumRatio): Finding['evidence'] {
  return (['calcium', 'alkalinity'] as const)
    .flatMap((code) =>
      readingEvidence(
        quantityNamed(facts, code),
        (facts.readings.get(code) ?? []).filter(({ day }) => day > calcium.toDay - shownDays),
        code,
      ),
    )
    .sort((a, b) => b.at.localeCompare(a.at))
    .slice(0, 30);
}
