import {
  type Advice,
  advised,
  again,
  air,
  correct,
  done,
  down,
  measure,
  notUp,
  source,
} from '../../../alerts/advice.ts';
import { type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { numberWords } from '../../../platform/words/numbers.ts';
import { acuteState } from '../../../water/acute/acute-states.rules.ts';
import { say, sayDifference } from '../../../water/quantities/quantities.ts';
import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import type { Level } from '../levels/level-against-band.ts';
import { figure, nameOf, percent, quantityNamed, readingEvidence } from '../shared/words.ts';
import type { AmmoniaShare } from './ammonia-share.ts';

/** Limits of total (`total`) and un-ionised ammonia, mg/L as N. */
type AmmoniaLimits = Readonly<Record<'total' | 'lasting' | 'acute', number>>;

const shownReadings = 10;
const unit = 'mg/L as N';

/** What is said of ammonia in the water. */
export function ammoniaFinding(
  facts: SystemFacts,
  readings: readonly ReadingFact[],
  level: Level,
  { share, u, ph, assumed }: AmmoniaShare,
  status: Finding['status'],
  values: AmmoniaLimits,
): Finding {
  const quantity = quantityNamed(facts, 'ammonia');
  const poison = level.value * share;
  const harms = poison >= values.lasting;
  const unread = assumed.includes('ph');
  return {
    ...plainFinding,
    rule: 'ammonia',
    subject: { type: 'system', id: facts.systemId },
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}`,
    status,
    severity: severityOf(level.value, poison, unread, values),
    score: Math.max(level.value / values.total, poison / values.lasting),
    title: `${facts.name}: ${titleWords(harms, unread)}`,
    numbers: `${say(quantity, level.value)} in all, ${numberWords(poison, 3)} ${unit} un-ionised${unread ? ` if the pH is ${numberWords(ph, 1)}` : ''}`,
    number: figure('Un-ionised ammonia', poison, 3, unit),
    limit: {
      ...(harms
        ? figure('Harms if it lasts, from', values.lasting, 3, unit)
        : figure('Total that a running system should not show', values.total, 2, unit)),
      source: harms
        ? 'Own choice: about a third of what no soft coral died of in four days (Arq. Cienc. Mar 57, 2024).'
        : 'Chemistry article, common practice.',
    },
    figures: [
      {
        label: 'Total ammonia',
        text: `${say(quantity, level.value)} ± ${sayDifference(quantity, level.sd, level.value)}`,
      },
      {
        label: 'Un-ionised share',
        text: `${percent(share)} at pH ${numberWords(ph, 2)}${unread ? ', which nobody has read' : ''}, ± ${percent(u)} of it`,
      },
      {
        label: 'Soft coral died',
        text: 'half of it at 0.28 mg/L as N in four days, none at 0.08 (Arq. Cienc. Mar 57, 2024)',
      },
      ...(assumed.length === 0
        ? []
        : [
            {
              label: 'Not read, taken as usual',
              text: assumed.map((code) => nameOf(facts, code)).join(', '),
            },
          ]),
    ],
    why: 'The un-ionised part harms, and grows with pH: at 8.2 it is seven times what it is at 7.3. In a running system ammonia means something died, was overfed, or the filter stopped.',
    ...advised(...ammoniaSteps(harms, unread)),
    evidence: readingEvidence(quantity, readings.slice(-shownReadings)),
  };
}

function titleWords(harms: boolean, unread: boolean): string {
  if (!harms) return 'there is ammonia in the water';
  return unread ? 'ammonia may harm: its pH is unknown' : 'ammonia is at a harmful level';
}

/** What harms is changed out fast; a trace is looked into first. */
function ammoniaSteps(harms: boolean, unread: boolean): Advice[] {
  const state = acuteState('ammonia', 'above');
  const change = harms
    ? (state?.rate.words ?? '')
    : 'Change 20 to 30 % with water of the same salinity and temperature.';
  return [
    air('Turn air on, keep pumps running.', done('air')),
    source('Look for a dead animal and stopped pumps, and stop feeding.', down('food')),
    source('Raise no pH.', notUp('level', 'ph'), notUp('dose', 'alkalinity')),
    measure(
      unread
        ? 'Read the pH now: it says how much of it harms. Test again with fresh reagents.'
        : 'Test again with fresh reagents and read the pH.',
    ),
    correct(change, done('water')),
    again(state?.again ?? ''),
  ];
}

/** So many times what a running system should not show: something died or the filter stopped, and it is looked for today. Own choice. */
const muchTotal = 2;

/** Without its pH nobody knows how much of it harms, so it is read today. */
function severityOf(
  value: number,
  poison: number,
  unread: boolean,
  { total, lasting, acute }: AmmoniaLimits,
): Severity {
  if (poison >= acute) return 'now';
  return poison >= lasting || value >= muchTotal * total || unread ? 'today' : 'watch';
}
