import { type Finding, type FindingKey, plainFinding } from '../../../alerts/finding.ts';
import { withSign } from '../../../platform/words/numbers.ts';
import { dateWords } from '../../../platform/words/times.ts';
import { demandDay, demandRecord } from '../../../water/demand/demand-record.rules.ts';
import { type DemandShift, demandShift } from '../../../water/demand/shift.rules.ts';
import { productsWords, unknownDosesOf, unknownIn } from '../../../water/demand/unknown-doses.rules.ts';
import { sayDifference, showDifference } from '../../../water/quantities/quantities.ts';
import { momentOfDay, type QuantityFact, type SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { dropsOut } from '../chemistry/precipitation.ts';
import { waterEnded } from '../endings/water.ts';
import { kitJudgements } from '../levels/kit-bias.ts';
import { amount, percent, quantityNamed, readingEvidence } from '../shared/words.ts';
import { type Doubt, demandAdvice, demandQuestion, demandTitle, type Way } from './demand-words.ts';

const simulated =
  'simulated systems with daily, second-daily and twice-weekly tests, doses that follow the use, changes of which a tenth is not logged, and stock that grows';

const parameters = {
  evidence: {
    label: 'How sure before an alert',
    unit: 'standard deviations',
    default: 3.4,
    low: 2,
    high: 6,
    source: `${simulated}: a false alert in more than three years and system`,
  },
  stays: {
    label: 'Close when less sure than',
    unit: 'standard deviations',
    default: 2,
    low: 0,
    high: 4,
    source: 'own choice: two thirds of what opens an alert',
  },
  fall: {
    label: 'Ignore falls smaller than',
    unit: '%',
    default: 20,
    low: 5,
    high: 80,
    source: 'own choice: a fifth less is more than a day’s clouds or a missed feeding make',
  },
  rise: {
    label: 'Ignore rises beyond growth smaller than',
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
    'Takes doses and water changes out of the alkalinity and compares what is used a day now with this system’s own 60 to 180 days before. Growth of the stock is allowed for, and what was sold or lost. Less use is an early sign of stress. Where a doser doses, what went out of its container counts.',
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
    const dropped = shift !== null && shift.use > shift.usual && dropsOut(facts, settings, now);
    return [dropped ? { ...found, status: 'unknown' } : found];
  },
});

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

function doubtOf(facts: SystemFacts, shift: DemandShift, way: Way): Doubt {
  if (way === 'fell' && productsIn(facts, shift).length > 0) return 'products';
  const against = way === 'fell' ? shift.usual : shift.expected;
  if (shift.late.dosedPerDay < against / 4 && Math.abs(shift.use) < against / 2) return 'unlogged';
  if (way === 'fell' && -shift.late.low < 0) return 'more than dosed';
  return shift.looked || !isByMachine(facts, shift.late) ? null : 'doser';
}

const productsIn = (facts: SystemFacts, shift: DemandShift) =>
  unknownIn(unknownDosesOf(facts, 'alkalinity'), shift.late);

/** Most of what was dosed in a window came from a doser, not from a hand. */
function isByMachine(
  { doses }: SystemFacts,
  { fromDay, toDay }: Pick<DemandShift['late'], 'fromDay' | 'toDay'>,
): boolean {
  const during = doses.filter(
    ({ day, quantityCode }) => quantityCode === 'alkalinity' && day >= fromDay && day < toDay,
  );
  const rises = (all: typeof during) => all.reduce((sum, { rise }) => sum + (rise ?? 0), 0);
  const machine = during.filter(({ doserId, byInstrument }) => doserId != null || byInstrument === true);
  return rises(machine) > rises(during) / 2;
}

function finding(facts: SystemFacts, shift: DemandShift, way: Way, judged: Judged): Finding {
  const quantity = quantityNamed(facts, 'alkalinity');
  const rate = (use: number) => `${sayDifference(quantity, use, shift.late.level)} a day`;
  const against = way === 'fell' ? shift.usual : shift.expected;
  const doubt = doubtOf(facts, shift, way);
  return {
    ...plainFinding,
    rule: 'demand-changed',
    subject: { type: 'system', id: facts.systemId },
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}/demand`,
    status: judged.fires ? 'fires' : 'stays',
    severity: way === 'fell' && doubt !== 'unlogged' && doubt !== 'products' ? 'today' : 'watch',
    score: judged.evidence / judged.limit,
    title: demandTitle(facts, way, judged.share, doubt),
    numbers: `${rate(shift.use)} over ${shift.days} days, ${shift.grows ? 'by its own growth' : 'usually'} ${rate(against)}`,
    number: { ...amount(quantity, 'Used a day', shift.use), text: rate(shift.use), unit: '' },
    large: largeOf(quantity, shift, against),
    limit: {
      ...amount(quantity, way === 'fell' && !shift.grows ? 'Usually' : 'By its own growth', against),
      text: rate(against),
      unit: '',
      source: `Own use since ${dateWords(momentOfDay(shift.sinceDay), facts.timeZone)}, in ${shift.past.length} windows of ${shift.days} days that differ by ${rate(shift.spread)}; ${parameters.evidence.source}.`,
    },
    figures: figuresOf(shift, rate),
    ...demandAdvice(way, doubt),
    question: demandQuestion(way, doubt, shift.left, productsWords(productsIn(facts, shift))),
    causes: [
      ...(doubt === 'doser' || doubt === 'more than dosed' ? levelKeys(facts, way) : []),
      ...(isOfTheSwing(shift, doubt) ? [swingKey(facts)] : []),
    ],
    evidence: readingEvidence(
      quantity,
      (facts.readings.get('alkalinity') ?? []).filter(({ day }) => day > shift.late.toDay - shownDays),
    ),
  };
}

/** "0.6 dKH a day", "usually 0.8". */
function largeOf(
  quantity: QuantityFact,
  { use, grows, late }: DemandShift,
  against: number,
): Finding['large'] {
  const { text, unit } = showDifference(quantity, use, late.level);
  const before = showDifference(quantity, against, late.level).text;
  return { text, unit: `${unit} a day`, more: `${grows ? 'expected' : 'usually'} ${before}` };
}

/**
 * A level that swings runs up or down for days by itself: while its alert stands, a use told from the shortest days only, of no
 * other cause than the stock or its doser, is part of it, unless looks into the container say what went in.
 */
const isOfTheSwing = ({ isShort, looked }: DemandShift, doubt: Doubt): boolean =>
  isShort && !looked && (doubt === null || doubt === 'doser');

const swingKey = ({ systemId }: SystemFacts): FindingKey => ({
  rule: 'alkalinity-unsteady',
  subject: { type: 'system', id: systemId },
  facet: '',
});

/** What tells that the level moves, which a doser that gives more or less does as well: one cause, one alert. */
function levelKeys({ systemId }: SystemFacts, way: Way): FindingKey[] {
  const of = (rule: string, facet = ''): FindingKey => ({
    rule,
    subject: { type: 'system', id: systemId },
    facet,
  });
  const moved = [of('out-of-band', 'alkalinity'), of('alkalinity-unsteady', 'trend')];
  return way === 'fell' ? [of('overdose'), ...moved] : [of('alkalinity-falling'), ...moved];
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
  ...(shift.left < shownLeft
    ? []
    : [
        {
          label: 'Less what was sold or lost since',
          text: `${percent(shift.left)} of the pieces: ${rate(shift.usual)}`,
        },
      ]),
];

/** Less of the stock that left is not told; own choice. */
const shownLeft = 0.03;

const signed = (share: number) => withSign(share, percent(Math.abs(share)));
