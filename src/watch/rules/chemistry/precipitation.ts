import { advised, again, air, correct, done, measure, notUp, source } from '../../../alerts/advice.ts';
import { type Finding, plainFinding } from '../../../alerts/finding.ts';
import { plural } from '../../../platform/words/numbers.ts';
import { CALCIUM_PER_ALKALINITY } from '../../../science/calcification.ts';
import { convertDifference } from '../../../science/units/convert.ts';
import { acuteAt } from '../../../water/acute/acute-states.rules.ts';
import { say, sayDifference } from '../../../water/quantities/quantities.ts';
import type { SystemFacts } from '../../facts/types.ts';
import type { ParameterSet, Values } from '../../rule-definition/parameters.ts';
import { defineRule, type SettingsFor } from '../../rule-definition/rule.ts';
import { waterEnded } from '../endings/water.ts';
import { chosenBand } from '../levels/chosen-band.ts';
import { figure, numberOf, quantityNamed, readingEvidence } from '../shared/words.ts';
import { type PrecipitationSigns, precipitationSigns } from './precipitation-signs.ts';

const parameters = {
  days: {
    label: 'Days of tests compared',
    unit: 'd',
    default: 7,
    low: 3,
    high: 21,
    source: 'own choice: carbonate forms within hours to days; stock grows over weeks',
  },
  times: {
    label: 'Alert when alkalinity lost a day is so many times that of the weeks before',
    unit: 'times',
    default: 1.6,
    low: 1.1,
    high: 5,
    source: 'own choice: growth of the stock does not add more than half in a week',
  },
  clear: {
    label: 'Count as a fall from so many times the uncertainty of two tests',
    unit: 'times',
    default: 1.6,
    low: 1,
    high: 4,
    source: 'own choice: each is 95 % likely to fall; both at once by chance is rarer still',
  },
};

/** Solid calcium carbonate that forms in the water. */
export const precipitation = defineRule({
  name: 'precipitation',
  heading: 'Carbonate drops out',
  watches:
    'Warns when alkalinity and calcium fall together although alkalinity is dosed, much faster than in the weeks before and without the salt falling too. Then solid calcium carbonate is the likely cause, and more of either makes it worse.',
  byKind: false,
  parameters,
  quietHours: 2 * 24,
  ended: waterEnded('alkalinity', 'calcium'),
  evaluate(facts, settings, now) {
    const signs = precipitationSigns(facts, now, settings());
    return signs === null ? [] : [finding(facts, signs, settings())];
  },
});

/** Whether the signs are there by the numbers that hold in the system, so that other rules do not ask for more of what drops out. */
export const dropsOut = (
  facts: SystemFacts,
  { of }: Pick<SettingsFor<ParameterSet>, 'of'>,
  now: Date,
): boolean => precipitationSigns(facts, now, of(precipitation)()) !== null;

/** A loss that makes it a matter of hours; own choice: the cap of a day's change. */
const fastPerDay = convertDifference('alkalinity', 1, 'dKH', 'meq/L');

/**
 * Whether alkalinity is where stock does not live, or is there within a day as it falls now. A fall that has come that far
 * is no matter for the day's list, however slow it was.
 */
function isAcuteSoon(facts: SystemFacts, { alkalinity: { to, fallsPerDay } }: PrecipitationSigns): boolean {
  const band = chosenBand(facts, 'alkalinity');
  const levels = [to.value, to.value - fallsPerDay];
  return levels.some((level) => acuteAt('alkalinity', level, band)?.side === 'below');
}

function finding(facts: SystemFacts, signs: PrecipitationSigns, values: Values<typeof parameters>): Finding {
  const [alkalinity, calcium] = [quantityNamed(facts, 'alkalinity'), quantityNamed(facts, 'calcium')];
  const perDay = signs.alkalinity.lost / signs.days;
  const rate = (value: number) => `${sayDifference(alkalinity, value, signs.alkalinity.to.value)} a day`;
  const before = signs.before === null ? 'not known' : rate(signs.before);
  const fell = (which: 'alkalinity' | 'calcium') => {
    const { from, to } = signs[which];
    return `${say(quantityNamed(facts, which), from.value)} to ${say(quantityNamed(facts, which), to.value)}`;
  };
  const usual = signs.before ?? 0;
  const acute = isAcuteSoon(facts, signs);
  return {
    ...plainFinding,
    rule: 'precipitation',
    subject: { type: 'system', id: facts.systemId },
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}`,
    status: 'fires',
    severity: perDay >= fastPerDay || acute ? 'now' : 'today',
    score: usual > 0 ? perDay / (values.times * usual) : 1,
    title: `${facts.name}: carbonate seems to drop out`,
    numbers: `alkalinity ${fell('alkalinity')}, calcium ${fell('calcium')} in ${plural(Math.max(1, Math.round(signs.days)), 'day', 'days')}, while doses went on`,
    number: { ...figure('Alkalinity lost a day', perDay, 2), text: rate(perDay), unit: '' },
    limit: {
      ...figure('In the weeks before', usual, 2),
      text: before,
      unit: '',
      source: parameters.times.source,
    },
    figures: [
      { label: 'Alkalinity lost a day, doses put back', text: rate(perDay) },
      { label: 'In the weeks before', text: before },
      {
        label: 'Calcium lost with it',
        text: `${numberOf(signs.ratio)} mg/L a meq/L; carbonate takes ${numberOf(CALCIUM_PER_ALKALINITY)}`,
      },
      { label: 'Calcium fell by', text: sayDifference(calcium, signs.calcium.fall, signs.calcium.to.value) },
    ],
    why: 'Stock that grows uses both too, but slowly more. Solid carbonate takes both within days, and can take out more than was added; each further dose feeds it (Moras et al. 2022, Biogeosciences 19).',
    ...advised(
      air('Keep the water moving and aired, and do not stir up what has settled.', done('air')),
      source(
        'Raise no dose and start no correction. Hold the alkalinity and calcium doses until both are tested again.',
        ...['alkalinity', 'calcium', 'magnesium'].map((code) => notUp('dose', code)),
      ),
      measure(
        'Test alkalinity, calcium, pH and magnesium now. Look for white film or snow on heaters, pumps and sand, and for milky water.',
      ),
      correct(
        acute
          ? 'Change 20 to 30 % for new water of normal alkalinity, which raises the level without feeding what drops out.'
          : 'If you find it, change 20 to 30 % of the water.',
        done('water'),
      ),
      again('Test alkalinity and calcium again after 1, 6, 24, 48 and 96 hours.'),
    ),
    question:
      'Was much stock added, or a strong dose, limewater or a new additive given this week? More stock would explain it too.',
    evidence: [
      ...readingEvidence(alkalinity, readingsOf(facts, 'alkalinity', signs), 'alkalinity'),
      ...readingEvidence(calcium, readingsOf(facts, 'calcium', signs), 'calcium'),
    ],
  };
}

const readingsOf = (facts: SystemFacts, code: 'alkalinity' | 'calcium', signs: PrecipitationSigns) =>
  (facts.readings.get(code) ?? []).filter(({ day }) => day >= signs[code].from.day);
