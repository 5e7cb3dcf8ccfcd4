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
  people,
  source,
} from '../../../alerts/advice.ts';
import { type Evidence, type Finding, plainFinding } from '../../../alerts/finding.ts';
import { limeWords } from '../../../science/dosing.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import { caps, isCorrectable } from '../../../water/dosing/substances.rules.ts';
import { sayDifference } from '../../../water/quantities/quantities.ts';
import type { DoseFact, SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { overdoseEnded } from '../endings/water.ts';
import { trustedReadings } from '../levels/simultaneous.ts';
import { figure, nameOf, quantityNamed } from '../shared/words.ts';

const parameters = {
  follow: {
    label: 'Follow an unusual dose for',
    unit: 'd',
    default: 4,
    low: 1,
    high: 14,
    source:
      'common practice: alkalinity and calcium are tested up to 96 h after, since solid carbonate can go on forming',
  },
  caps: {
    label: 'Alert at so many daily caps at once, even where a reason was given',
    unit: 'times',
    default: 2,
    low: 1,
    high: 10,
    source: 'own choice: a reason explains a dose, but the water still gets it',
  },
} as const;

/** A test so soon after a dose does not show it mixed in; own choice. */
const mixedDays = 1 / 24;

/** A dose that went in far above what is usual, above the daily cap, or that led out of the band. */
export const overdose = defineRule({
  name: 'overdose',
  heading: 'Too much dosed',
  watches:
    'Looks at doses that an instrument posted although they were unusual, and at those of people that come to several daily caps at once. It asks to stop the source, and follows until a test afterwards is in the band.',
  byKind: false,
  parameters,
  quietHours: 0,
  ended: overdoseEnded,
  evaluate(facts, settings, now) {
    const values = settings();
    const today = dayOf(now);
    const recent = facts.doses.filter(
      (dose) =>
        dose.day > today - values.follow &&
        (dose.concerns ?? []).length > 0 &&
        (dose.byInstrument || isMany(dose, values.caps)) &&
        !isSettled(facts, dose),
    );
    const byQuantity = Map.groupBy(
      recent,
      (dose) => dose.quantityCode ?? dose.substance.trim().toLowerCase(),
    );
    return [...byQuantity].map(([facet, doses]) => finding(facts, facet, doses, values.caps));
  },
});

function isMany({ quantityCode, rise }: DoseFact, times: number): boolean {
  return quantityCode !== null && isCorrectable(quantityCode) && rise !== null
    ? Math.abs(rise) >= times * caps[quantityCode].usual
    : false;
}

/** A test that is relied on, an hour or more after the dose, stands in the band. */
function isSettled(facts: SystemFacts, { quantityCode, day }: DoseFact): boolean {
  if (quantityCode === null) return false;
  const kept = facts.kept.get(quantityCode);
  const last = trustedReadings(facts, quantityCode).at(-1);
  if (kept === undefined || last === undefined || last.day < day + mixedDays) return false;
  return last.value >= (kept.bandLow ?? -Infinity) && last.value <= (kept.bandHigh ?? Infinity);
}

function finding(facts: SystemFacts, facet: string, doses: readonly DoseFact[], capTimes: number): Finding {
  const last = doses.at(-1) as DoseFact;
  const quantity = last.quantityCode === null ? null : quantityNamed(facts, last.quantityCode);
  const total = doses.reduce((sum, { rise }) => sum + (rise ?? 0), 0);
  const cap = isCorrectable(facet) ? caps[facet] : null;
  const amount = quantity === null ? '' : sayDifference(quantity, Math.abs(total), atOf(facts, facet));
  const does = total < 0 ? 'lowered' : 'raised';
  const name = quantity === null ? last.substance : nameOf(facts, facet);
  return {
    ...plainFinding,
    rule: 'overdose',
    subject: { type: 'system', id: facts.systemId },
    facet,
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}/doses`,
    status: 'fires',
    severity: 'now',
    score: cap === null ? doses.length : Math.max(1, Math.abs(total) / (capTimes * cap.usual)),
    title:
      quantity === null
        ? `${facts.name}: an unusual dose of ${name}`
        : `${facts.name}: ${name} ${does} about ${amount} ${doses.length === 1 ? 'at once' : `by ${doses.length} doses`}`,
    numbers: last.concerns?.[0] ?? '',
    number: figure('Unusual doses', doses.length, 0),
    limit: {
      ...figure('Usual', 0, 0),
      source: cap?.source ?? 'the usual amount of this substance in this system',
    },
    figures: [{ label: 'Unusual about it', text: (last.concerns ?? []).join(' ') }],
    why: 'A dose that is too large lifts the pH, and solid carbonate can form that takes out more than was added (Moras et al. 2022, Biogeosciences 19).',
    ...advised(...stepsFor(facet, last)),
    question: last.byInstrument
      ? 'Did the instrument really give this much? If it only reported it wrong, void the dose with the reason.'
      : `It was written down as: ${last.reason}`,
    evidence: doses.map(evidenceOf).reverse(),
  };
}

function atOf(facts: SystemFacts, code: string): number {
  const { bandLow, bandHigh } = facts.kept.get(code) ?? { bandLow: null, bandHigh: null };
  return facts.readings.get(code)?.at(-1)?.value ?? bandHigh ?? bandLow ?? 3;
}

const isCaustic = (substance: string) => limeWords.test(substance) || /hydroxide/i.test(substance);

function stepsFor(facet: string, { substance }: DoseFact): Advice[] {
  const first = [
    ...(isCaustic(substance)
      ? [
          people(
            'Wear gloves and goggles: limewater and hydroxides burn. If it gets into an eye, rinse for 15 minutes and call a doctor or the poison centre.',
          ),
        ]
      : []),
    air('Keep the water moving, air it strongly with outside air, leave the skimmer on.', done('air')),
    source(
      'Stop the source in two ways: pull its plug and close its valve.',
      isCorrectable(facet) ? down('dose', facet) : down('dose'),
    ),
  ];
  if (facet !== 'alkalinity' && facet !== 'calcium')
    return [
      ...first,
      source('Put in nothing to balance it.', notUp('dose')),
      measure('Look at the label for what it holds, test that, and look at the animals.'),
      correct('Change 20 to 30 % of the water where they look unwell.', done('water')),
    ];
  return [
    ...first,
    source(
      'Add no acid, nothing to balance it, and stir up no white powder.',
      notUp('dose', 'alkalinity'),
      notUp('dose', 'calcium'),
    ),
    measure('Test pH now and every 15 minutes until it is below 8.5.'),
    correct(
      'Change 20 to 30 % above pH 8.8, with fresh mix of normal alkalinity that was not aired for long. Repeat it if needed.',
      done('water'),
    ),
    again('Test alkalinity and calcium after 1, 6, 24, 48 and 96 hours.'),
  ];
}

const evidenceOf = ({ id, at, substance, reason = '' }: DoseFact): Evidence => ({
  kind: 'dose',
  id,
  at,
  text: substance,
  note: reason,
});
