import { advised, measure, noted } from '../../../alerts/advice.ts';
import { type Finding, plainFinding } from '../../../alerts/finding.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import type { KitPutAwayFact, SystemFacts } from '../../facts/types.ts';
import type { Values } from '../../rule-definition/parameters.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { kitMissingEnded } from '../endings/things.ts';
import { dateOfDay, figure, nameOf } from '../shared/words.ts';
import { kitMissingKey, openAnother, successorOf } from './put-away.ts';

const parameters = {
  days: {
    label: 'Days to begin with another kit the farm has',
    unit: 'd',
    default: 2,
    low: 0,
    high: 30,
    source: 'own choice: by then the next test was made with it, or was not made',
  },
};

/** A quantity that was tested here and has no kit any more. */
export const kitMissing = defineRule({
  name: 'kit-missing',
  heading: 'No kit in use',
  watches:
    'A quantity whose kit was put away while no other took its place: at once where the farm has none, else after some days without a test by another.',
  byKind: false,
  parameters,
  quietHours: 0,
  untried: 'It repeats what the cupboard holds now; the past of it is not kept.',
  ended: kitMissingEnded,
  evaluate(facts, settings, now) {
    const away = Map.groupBy(facts.kitsPutAway, ({ quantityCode }) => quantityCode);
    return [...away.values()].flatMap((kits) => {
      const last = kits.at(-1);
      return last === undefined || successorOf(last) !== null ? [] : finding(facts, last, settings(), now);
    });
  },
});

function finding(
  facts: SystemFacts,
  kit: KitPutAwayFact,
  { days }: Values<typeof parameters>,
  now: Date,
): Finding[] {
  const gone = dayOf(now) - kit.day;
  const [elsewhere] = kit.others;
  if (elsewhere !== undefined && gone < days) return [];
  const name = nameOf(facts, kit.quantityCode);
  const asked =
    facts.kept.has(kit.quantityCode) ||
    facts.routines.some(({ quantityCode }) => quantityCode === kit.quantityCode);
  return [
    {
      ...plainFinding,
      ...kitMissingKey(facts.systemId, kit.quantityCode),
      systemId: facts.systemId,
      href: '/water/kits',
      status: 'fires',
      severity: asked ? 'today' : 'watch',
      score: 1,
      title: `${facts.name}: no ${name} kit in use`,
      numbers: `${kit.label} was put away ${dateOfDay(kit.day, facts)}`,
      number: figure('Days without a kit', gone, 0, 'd'),
      limit: {
        ...figure('Allowed', elsewhere === undefined ? 0 : days, 0, 'd'),
        source: parameters.days.source,
      },
      why: `Without a kit nothing new is known of ${name}: alerts on it use old figures.`,
      ...advised(
        elsewhere === undefined
          ? openAnother(name)
          : noted(
              measure(
                `Test one sample three times with ${elsewhere.label}, and a standard. Or open another kit.`,
              ),
              `The farm has ${elsewhere.label}, not used here yet.`,
            ),
      ),
    },
  ];
}
