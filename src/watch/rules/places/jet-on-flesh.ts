import { advised, again, down, source } from '../../../alerts/advice.ts';
import { type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { urgencyBySource } from '../../../alerts/unchecked.rules.ts';
import type { ConditionState } from '../../../generated/prisma/enums.ts';
import { dayOf } from '../../../science/numeric/time.ts';
import type { LotFact, SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { placeEnded } from '../endings/places.ts';
import { lookEvidence, signSince } from '../shared/conditions.ts';
import { groupedByRack, type LotFinding } from '../shared/group-by-rack.ts';
import { lotName, lotsWords, placementEvidence, whereWords } from '../shared/place-words.ts';
import { dateOfDay, figure } from '../shared/words.ts';

const parameters = {
  wait: {
    label: 'For today after so long in a jet',
    unit: 'd',
    default: 0,
    low: 0,
    high: 30,
    source: 'own choice: even a weak pump strips flesh, so at once; more where a farm tries places out',
  },
};

const signs: readonly ConditionState[] = ['jet', 'receding'];
/** What the library says of kinds that bear one. */
const borne = 'tolerated';

/** A lot whose kind does not bear it stands where a jet strikes. */
export const jetOnFlesh = defineRule({
  name: 'jet-on-flesh',
  heading: 'A jet on flesh',
  watches:
    'Looks for lots hit by a steady stream, of kinds that cannot take one, and for lots that were seen in one. Flesh going there makes it urgent.',
  byKind: true,
  parameters,
  untried: 'Only the places of today are known to this rule, not those of the past.',
  quietHours: 0,
  ended: placeEnded,
  evaluate(facts, settings, now) {
    const found = facts.lots
      .map((lot) => findingOf(facts, lot, settings(lot.kindIds).wait, dayOf(now)))
      .filter((one): one is LotFinding => one !== null);
    return groupedByRack(facts, found, (rack, lots) => ({
      title: `${rack.name}: a jet strikes ${lotsWords(lots.length)}`,
      numbers: lots
        .map(({ lot }) => lotName(lot))
        .slice(0, 4)
        .join(', '),
      number: figure('Lots in a jet', lots.length, 0),
      limit: {
        ...figure('Lots of one rack that are one alert, from', 3, 0),
        source: 'own choice: three of one rack have one cause',
      },
      why: 'Several lots of one rack at once: a pump points at them.',
      ...advised(
        source('Turn the pump so that its stream passes over them or strikes glass.', down('flow')),
        again('Look at their edges tomorrow.'),
      ),
    }));
  },
});

/** Flesh that goes is for now and a jet that was seen for today; what the kind is said to bear counts as far as it was checked. */
function urgencyOf(
  { hurts, seen, long }: { hurts: boolean; seen: boolean; long: boolean },
  source: string,
): Severity {
  if (hurts) return 'now';
  return seen ? 'today' : urgencyBySource(long ? 'today' : 'watch', source);
}

function findingOf(facts: SystemFacts, lot: LotFact, wait: number, today: number): LotFinding | null {
  const { jet } = lot.care;
  const seen = signSince(lot, ['jet'], lot.placedDay);
  const suffers = lot.jet && jet !== null && jet.words !== borne;
  if (!suffers && seen === null) return null;
  const sign = signSince(lot, signs, lot.placedDay);
  const hurts = sign?.state === 'receding' || (sign?.grade ?? 1) >= 3;
  const days = Math.max(0, Math.floor(today - lot.placedDay));
  const finding: Finding = {
    ...plainFinding,
    rule: 'jet-on-flesh',
    subject: { type: 'lot', id: lot.id },
    systemId: facts.systemId,
    href: `/stock/${lot.code}`,
    status: 'fires',
    severity: urgencyOf({ hurts, seen: seen !== null, long: days >= wait }, jet?.source ?? ''),
    score: hurts ? 4 : sign === null ? 2 : 2.5,
    title: `${whereWords(lot)}: ${hurts ? 'flesh goes where a jet strikes' : 'a jet strikes it'}`,
    numbers: suffers
      ? `a jet noted there; on this place since ${dateOfDay(lot.placedDay, facts)}`
      : `seen ${dateOfDay(seen?.day ?? today, facts)}`,
    number: figure('Days on this place', days, 0, 'd'),
    limit: {
      label: 'A jet on its kind',
      value: 0,
      text: jet?.words ?? 'not stated',
      unit: '',
      source: jet?.source ?? 'nobody states it',
    },
    figures: [{ label: 'Kind', text: lot.kindName }],
    why: 'A steady stream at the flesh wears it off the skeleton, even from a weak pump; a strong stream that passes over it is fine.',
    ...advised(
      source('Turn the pump or the piece today so that nothing strikes the flesh directly.', down('flow')),
      again('Look at its edge tomorrow.'),
    ),
    evidence: [
      ...(sign === null ? [] : [lookEvidence(sign)]),
      placementEvidence(lot, lot.jet ? 'a jet strikes the slot' : ''),
    ],
  };
  return { lot, finding };
}
