import { advised, again, correct, done, down, measure, notUp, up } from '../../../alerts/advice.ts';
import { type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { nitrateEstimate } from '../../../water/estimates/nitrate.rules.ts';
import type { KindWish } from '../../../water/nutrients/target.rules.ts';
import { say, sayDifference } from '../../../water/quantities/quantities.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import { kitJudgements } from '../levels/kit-bias.ts';
import { amount, quantityNamed, readingEvidence, sinceWords } from '../shared/words.ts';
import { changeEvidence, changesAsked, exportStep, lastTestWords } from './creep-words.ts';
import type { Depletion } from './depletion.ts';
import { nitrateSaid, wishesOf } from './nutrient-words.ts';
import type { NitrateAgainstEdge } from './raised.ts';

const shownReadings = 15;
const shownDays = 60;

const subjectOf = (facts: SystemFacts, facet: string) => ({
  ...plainFinding,
  rule: 'nitrate-level',
  subject: { type: 'system' as const, id: facts.systemId },
  facet,
  systemId: facts.systemId,
  href: `/water/systems/${facts.systemId}`,
});

/** Nitrate above its edge: export first, then feed less. */
export function highFinding(
  facts: SystemFacts,
  readings: readonly ReadingFact[],
  { level, edge, source, stale, z, atLeast }: NitrateAgainstEdge,
  fires: boolean,
  values: { trouble: number; grave: number },
  now: Date,
): Finding {
  const quantity = quantityNamed(facts, 'nitrate');
  const estimate = atLeast ? null : nitrateEstimate(facts, kitJudgements(facts), now);
  const said = estimate === null || facts.changes.length === 0 ? null : nitrateSaid(facts, estimate, now);
  // What pages say, also where a kit under suspicion was left out of the judgement.
  const shown = level.from !== 'unconfirmed' && estimate !== null ? estimate.state.level : level.value;
  return {
    ...subjectOf(facts, 'high'),
    status: stale ? 'unknown' : fires ? 'fires' : 'stays',
    severity: highSeverity(facts, level.value, values),
    score: level.value / edge,
    title: `${facts.name}: nitrate is ${z < 1 ? 'at its upper edge' : 'too high'}`,
    numbers: `${atLeast ? 'more than ' : ''}${say(quantity, shown)}, at most ${say(quantity, edge)}`,
    number: amount(
      quantity,
      atLeast ? 'At least, beyond the scale of the test' : 'Level, from all tests',
      shown,
    ),
    limit: { ...amount(quantity, 'Upper edge', edge), source },
    figures: atLeast
      ? [{ label: 'How much more', text: 'not known: dilute the sample and test again' }]
      : [
          { label: 'Uncertainty of the level', text: `± ${sayDifference(quantity, level.sd, level.value)}` },
          ...lastTest(facts, now),
        ],
    why: `${level.value < values.trouble ? 'It is above this farm’s target. ' : ''}From about 30 to 40 mg/L growers see trouble, and look at nitrate first when stock suddenly recedes. Corals then also stand less heat and light.`,
    ...advised(
      ...(atLeast ? [measure('Dilute the sample and test again: nobody knows how much there is.')] : []),
      said === null ? correct(exportBlindly, up('export'), done('water')) : exportStep(said, null),
    ),
    said: said?.all ?? [],
    changes: said === null ? null : changesAsked(said),
    question: facts.changes.length === 0 ? 'Were water changes done? None is logged.' : '',
    evidence: [
      ...readingEvidence(quantity, readings.slice(-shownReadings)),
      ...changeEvidence(facts, dayOf(now) - shownDays),
    ].sort((a, b) => b.at.localeCompare(a.at)),
    causes: [{ rule: 'nitrate-creep', subject: { type: 'system', id: facts.systemId }, facet: '' }],
  };
}

/** The newest test, beside the estimate. */
function lastTest(facts: SystemFacts, now: Date) {
  const last = facts.readings.get('nitrate')?.at(-1);
  const text = last === undefined ? '' : lastTestWords(quantityNamed(facts, 'nitrate'), last, facts, now);
  return text === '' ? [] : [{ label: 'Last test', text }];
}

function highSeverity(
  facts: SystemFacts,
  level: number,
  { trouble, grave }: { trouble: number; grave: number },
): Severity {
  const limit = facts.kept.get('nitrate')?.limitHigh ?? trouble;
  if (level >= Math.max(limit, grave)) return 'now';
  return level >= limit ? 'today' : 'watch';
}

/** What nobody can plan without a log of water changes. */
const exportBlindly =
  'Export more: skim wetter, take detritus out, change 20 % of the water and test again. Feed less only if it still rises after three weeks: most systems are underfed.';

const paleDays = 21;

/** Stock that pales makes it more urgent. */
function anyPale(facts: SystemFacts, now: Date): boolean {
  const since = dayOf(now) - paleDays;
  return facts.lots.some(({ conditions }) =>
    conditions.some(({ day, state }) => day > since && (state === 'paling' || state === 'bleached')),
  );
}

/** No nitrate for weeks: feed more first, then export less. */
export function starvedFinding(
  facts: SystemFacts,
  { sinceDay, beforeDay, readings, below, sure }: Depletion,
  low: number,
  { weeks }: { weeks: number },
  now: Date,
): Finding {
  const quantity = quantityNamed(facts, 'nitrate');
  const last = readings.at(-1) as ReadingFact;
  const pale = anyPale(facts, now);
  return {
    ...subjectOf(facts, 'starved'),
    status: sure ? 'fires' : 'stays',
    severity: pale ? 'today' : 'watch',
    score: pale ? 1.5 : 1,
    title: `${facts.name}: the water is starved of nitrate`,
    numbers: `${say(quantity, last.value, last.below)}, so ${sinceWords(beforeDay, sinceDay, facts)}`,
    number: amount(quantity, last.below ? 'Last reading, below detection' : 'Last reading', last.value),
    limit: {
      ...amount(quantity, 'Lower edge', low),
      source: `${facts.kept.get('nitrate')?.bandLow == null ? 'No lower edge is set here; own choice' : (facts.kept.get('nitrate')?.source ?? '')}. Said after ${weeks} weeks.`,
    },
    figures: [{ label: 'Below detection', text: `${below} of ${readings.length} readings` }],
    why: `Corals without nitrogen grow pale and slow.${keptWords(facts)}${pale ? ' Some stock here is pale already.' : ''}`,
    ...advised(
      correct('Feed more first: small foods, more often, pumps off while they eat.', up('food')),
      again(
        'If nothing rises in two weeks, export less: skim drier, change less water. Test phosphate as well.',
      ),
    ),
    evidence: readingEvidence(quantity, readings.slice(-shownReadings)),
  };
}

/** What the kinds that live here are kept at: " The care of Acropora tenuis asks for 1 to 20 mg/L."; '' where none says. */
function keptWords(facts: SystemFacts): string {
  const quantity = quantityNamed(facts, 'nitrate');
  const asking = wishesOf(facts).filter(
    (wish): wish is KindWish & { low: number; high: number } => wish.low !== null && wish.high !== null,
  );
  const [highest] = asking.sort((a, b) => b.low - a.low || a.kind.localeCompare(b.kind));
  if (highest === undefined) return '';
  return ` The care of ${highest.kind} here wants ${say(quantity, highest.low)} to ${say(quantity, highest.high)}.`;
}

/** Nitrate is there and phosphate for weeks is not: bring phosphorus back before taking nitrogen down. */
export function noPhosphorusFinding(
  facts: SystemFacts,
  { sinceDay, beforeDay, readings, below, sure }: Depletion,
  nitrate: number,
  { phosphorus }: { phosphorus: number },
  now: Date,
): Finding {
  const quantity = quantityNamed(facts, 'phosphate');
  const last = readings.at(-1) as ReadingFact;
  const pale = anyPale(facts, now);
  return {
    ...subjectOf(facts, 'no phosphorus'),
    status: sure ? 'fires' : 'stays',
    severity: 'today',
    score: pale ? 1.5 : 1,
    title: `${facts.name}: nitrate without phosphate`,
    numbers: `${say(quantityNamed(facts, 'nitrate'), nitrate)} nitrate; phosphate ${say(quantity, last.value, last.below)}, so ${sinceWords(beforeDay, sinceDay, facts)}`,
    number: amount(
      quantity,
      last.below ? 'Phosphate, below detection' : 'Phosphate, last reading',
      last.value,
    ),
    limit: {
      ...amount(quantity, 'Missing from', phosphorus),
      source: 'Int. J. Mol. Sci. 24 (2023) 3119: 0.2 µmol/L, 0.019 mg/L, was its scarce phosphate.',
    },
    figures: [{ label: 'Below detection', text: `${below} of ${readings.length} readings` }],
    why: `Nitrogen with scarce phosphorus is the harmful pair: corals lose tissue and bleach at less heat and light (Nature Climate Change 2012; Marine Pollution Bulletin 2017). Nitrogen short with phosphate there does little harm.${pale ? ' Some stock here is pale already.' : ''}`,
    ...advised(
      correct(
        'Bring phosphate back before taking nitrate down: take phosphate remover out, feed more.',
        down('remover'),
        up('food'),
        notUp('export'),
      ),
      again(
        'Test again in a week with a low-range photometer or a laboratory, since kits fail near nothing. Lower nitrate only then, if it is high.',
      ),
    ),
    evidence: readingEvidence(quantity, readings.slice(-shownReadings)),
  };
}
