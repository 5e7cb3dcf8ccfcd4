import { advised, down, measure, optimise, up } from '../../../alerts/advice.ts';
import { type Finding, plainFinding } from '../../../alerts/finding.ts';
import { withSign } from '../../../platform/words/numbers.ts';
import { dateWords } from '../../../platform/words/times.ts';
import { demandDay, demandRecord } from '../../../water/demand/demand-record.rules.ts';
import { type DemandShift, demandShift } from '../../../water/demand/shift.rules.ts';
import { sayDifference } from '../../../water/quantities/quantities.ts';
import { momentOfDay, type SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { dropsOut } from '../chemistry/precipitation.ts';
import { waterEnded } from '../endings/water.ts';
import { kitJudgements } from '../levels/kit-bias.ts';
import { amount, percent, quantityNamed, readingEvidence } from '../shared/words.ts';

const simulated =
  'simulated systems with daily, second-daily and twice-weekly tests, doses that follow the use, changes of which a tenth is not logged, and stock that grows';

const parameters = {
  evidence: {
    label: 'Alarm at',
    unit: 'standard deviations',
    default: 3.5,
    low: 2,
    high: 6,
    source: `${simulated}: a false alert in more than three years and system`,
  },
  stays: {
    label: 'How sure, below which it closes',
    unit: 'standard deviations',
    default: 2,
    low: 0,
    high: 4,
    source: 'own choice: two thirds of what opens an alert',
  },
  fall: {
    label: 'Smallest fall of the use that is told',
    unit: '%',
    default: 20,
    low: 5,
    high: 80,
    source: 'own choice: a fifth less is more than a day’s clouds or a missed feeding make',
  },
  rise: {
    label: 'Smallest rise over its own growth that is told',
    unit: '%',
    default: 30,
    low: 5,
    high: 200,
    source: 'own choice: stock that grows uses more, slowly; a third at once is something else',
  },
};

const shownDays = 30;

/** Alkalinity is used up slower, or faster, than it was. */
export const demandChanged = defineRule({
  name: 'demand-changed',
  heading: 'Demand changed',
  watches:
    'Takes doses and water changes out of the alkalinity and compares what is used a day now with this system’s own 60 to 180 days before. Growth of the stock is allowed for. Less use is an early sign of stress.',
  byKind: false,
  learns: true,
  parameters,
  quietHours: 4 * 24,
  ended: waterEnded('alkalinity'),
  evaluate(facts, settings, now) {
    const shift = demandShift(
      demandRecord(facts, 'alkalinity', kitJudgements(facts)),
      demandDay(facts, 'alkalinity', now),
    );
    const found = shift === null ? null : judge(facts, shift, settings());
    if (found === null) return [];
    // Water that drops carbonate is asked for no more of it.
    const dropped = shift !== null && shift.use > shift.usual && dropsOut(facts, now);
    return [dropped ? { ...found, status: 'unknown' } : found];
  },
});

type Way = 'fell' | 'rose';

function judge(facts: SystemFacts, shift: DemandShift, values: Values<typeof parameters>): Finding | null {
  const way: Way = shift.use < shift.usual ? 'fell' : 'rose';
  const evidence = shift[way];
  const share = way === 'fell' ? -shift.share : shift.use / shift.expected - 1;
  const smallest = values[way === 'fell' ? 'fall' : 'rise'] / 100;
  if (evidence < values.stays || share < smallest / 2) return null;
  const fires = evidence >= values.evidence && share >= smallest;
  return finding(facts, shift, way, { fires, evidence, share, limit: values.evidence });
}

interface Judged {
  fires: boolean;
  evidence: number;
  share: number;
  limit: number;
}

function finding(facts: SystemFacts, shift: DemandShift, way: Way, judged: Judged): Finding {
  const quantity = quantityNamed(facts, 'alkalinity');
  const rate = (use: number) => `${sayDifference(quantity, use, shift.late.level)} a day`;
  const against = way === 'fell' ? shift.usual : shift.expected;
  const undosed = shift.late.dosedPerDay < against / 4 && Math.abs(shift.use) < against / 2;
  return {
    ...plainFinding,
    rule: 'demand-changed',
    subject: { type: 'system', id: facts.systemId },
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}/demand`,
    status: judged.fires ? 'fires' : 'stays',
    severity: way === 'fell' && !undosed ? 'today' : 'watch',
    score: judged.evidence / judged.limit,
    title: titleOf(facts, way, judged.share, undosed),
    numbers: `${rate(shift.use)} over ${shift.days} days, ${shift.grows ? 'by its own growth' : 'usually'} ${rate(shift.usual)}`,
    number: { ...amount(quantity, 'Used a day', shift.use), text: rate(shift.use), unit: '' },
    limit: {
      ...amount(quantity, way === 'fell' && !shift.grows ? 'Usually' : 'By its own growth', against),
      text: rate(against),
      unit: '',
      source: `Own use since ${dateWords(momentOfDay(shift.sinceDay), facts.timeZone)}, in ${shift.past.length} windows of ${shift.days} days that differ by ${rate(shift.spread)}; ${parameters.evidence.source}.`,
    },
    figures: figuresOf(shift, rate),
    ...advice[way],
    question: undosed
      ? 'Were doses given that nobody logged? Log them: the use is worked out from the doses.'
      : question(way),
    evidence: readingEvidence(
      quantity,
      (facts.readings.get('alkalinity') ?? []).filter(({ day }) => day > shift.late.toDay - shownDays),
    ),
  };
}

function titleOf({ name }: SystemFacts, way: Way, share: number, undosed: boolean): string {
  if (undosed) return `${name}: less alkalinity used, or doses unlogged`;
  return way === 'fell'
    ? `${name}: alkalinity use fell by ${percent(share)}`
    : `${name}: alkalinity use rose ${percent(share)} beyond growth`;
}

const figuresOf = (shift: DemandShift, rate: (use: number) => string): Finding['figures'] => [
  {
    label: 'Used a day now, 95 %',
    text: `${rate(-shift.late.high)} to ${rate(-shift.late.low)}`,
  },
  {
    label: 'Change against usual, 95 %',
    text: `${signed(shift.shareLow)} to ${signed(shift.shareHigh)}`,
  },
  { label: 'Dosed a day', text: rate(shift.late.dosedPerDay) },
  { label: 'By its own growth', text: rate(shift.expected) },
];

const signed = (share: number) => withSign(share, percent(Math.abs(share)));

const advice = {
  fell: {
    why: 'Stock that builds skeleton slower uses less: a fall often shows stress before any piece pales. With the doses as before, alkalinity will rise.',
    ...advised(
      measure(
        'Look at the stock, the lamps, the temperature and the flow today. Test alkalinity again, with another kit if there is one.',
      ),
      optimise(
        'Then lower the daily dose to the use rather than let the level climb.',
        down('dose', 'alkalinity'),
      ),
    ),
  },
  rose: {
    why: 'More is used than growth explains. With the doses as before, alkalinity will fall.',
    ...advised(
      measure(
        'Test alkalinity again. Look for a doser that gives too little, a leak that is topped up, or white crusts on heaters and pumps.',
      ),
      optimise('Then raise the daily dose by small steps.', up('dose', 'alkalinity')),
    ),
  },
};

const question = (way: Way): string =>
  way === 'fell'
    ? 'Was stock sold or moved out of this water? Then it uses less by right.'
    : 'Was stock added, or are water changes missing in the log?';
