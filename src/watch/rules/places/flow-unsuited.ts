import { advised, done, down, measure, optimise, up } from '../../../alerts/advice.ts';
import { type Finding, mostUrgent, plainFinding, raised } from '../../../alerts/finding.ts';
import { urgencyBySource } from '../../../alerts/unchecked.rules.ts';
import { flowLevel } from '../../../farm/racks/flow.rules.ts';
import { flowText } from '../../../farm/racks/words.ts';
import type { ConditionState } from '../../../generated/prisma/enums.ts';
import type { LotFact, SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { placeEnded } from '../endings/places.ts';
import { lookEvidence, signSince } from '../shared/conditions.ts';
import { groupedByRack, type LotFinding } from '../shared/group-by-rack.ts';
import { flowRangeWords, lotsWords, placementEvidence, whereWords } from '../shared/place-words.ts';
import { dateOfDay, figure } from '../shared/words.ts';

const parameters = {
  urgent: {
    label: 'For today when so many flow classes off',
    unit: '',
    default: 2,
    low: 1,
    high: 3,
    source: 'own choice: one class off often does no harm; two are another place altogether',
  },
};

/** What wrong flow brings about. */
const signs: readonly ConditionState[] = ['receding', 'polyps_shut', 'silt', 'algae'];

/** A lot in more or less flow than suits its kind. */
export const flowUnsuited = defineRule({
  name: 'flow-unsuited',
  heading: 'Flow that does not suit',
  watches:
    'Compares the flow class of each lot’s slots with what its kind is kept in. Three lots or more on one rack are one alert.',
  byKind: true,
  parameters,
  untried: 'Only the places of today are known to this rule, not those of the past.',
  quietHours: 0,
  ended: placeEnded,
  evaluate(facts, settings) {
    const found = facts.lots
      .map((lot) => findingOf(facts, lot, settings(lot.kindIds).urgent))
      .filter((one): one is LotFinding => one !== null);
    return groupedByRack(facts, found, (rack, lots) => {
      const flows = [...new Set(lots.map(({ lot }) => flowText(lot.flow)))];
      return {
        title: `${rack.name}: ${lotsWords(lots.length)} in the wrong flow`,
        numbers: `${flows.join(' and ')} flow there`,
        number: figure('Lots in the wrong flow', lots.length, 0),
        limit: {
          ...figure('Lots in the wrong flow from which they are one alert', 3, 0),
          source: 'own choice: three of one rack have one cause',
        },
        why: 'Several lots of one rack are in flow that does not suit their kinds: the pumps or the rack are at fault, not the lots.',
        ...advised(
          measure('Check the pumps at this rack: one turned, was added or is clogged.'),
          optimise('If it is as meant, plan a move of the lots listed.', done('place')),
        ),
      };
    });
  },
});

function findingOf(facts: SystemFacts, lot: LotFact, urgent: number): LotFinding | null {
  const { flow } = lot.care;
  const here = flowLevel(lot.flow);
  if (flow === null || lot.flow === null || here === null) return null;
  const away = here < flow.low ? flow.low - here : here - flow.high;
  if (away <= 0) return null;
  const calm = urgencyBySource(away >= urgent ? 'today' : 'watch', flow.source);
  const sign = signSince(lot, signs, lot.placedDay);
  const weak = here < flow.low;
  const kept = flowRangeWords(flow.low, flow.high);
  const finding: Finding = {
    ...plainFinding,
    rule: 'flow-unsuited',
    subject: { type: 'lot', id: lot.id },
    systemId: facts.systemId,
    href: `/stock/${lot.code}`,
    status: 'fires',
    severity: sign === null ? calm : mostUrgent([raised(calm), 'today']),
    score: (1 + away) * (sign === null ? 1 : 1.5),
    title: `${whereWords(lot)}: ${weak ? 'less' : 'more'} flow than suits its kind`,
    numbers: `${lot.flow} flow noted there; kept in ${kept}; on this place since ${dateOfDay(lot.placedDay, facts)}`,
    number: { label: 'Flow there', value: here, text: lot.flow, unit: '' },
    limit: {
      label: 'Kept in',
      value: weak ? flow.low : flow.high,
      text: kept,
      unit: '',
      source: flow.source,
    },
    figures: [{ label: 'Kind', text: lot.kindName }],
    why: weak
      ? 'Where water hardly moves, grains and detritus lie on the flesh, and food and gases come too slowly.'
      : 'In too much flow a coral keeps its polyps in, and its flesh wears off the ridges.',
    ...advised(
      optimise(
        `Move it to a place of ${kept} flow and the same light, or ${weak ? 'give it more flow' : 'turn the pump'}.`,
        weak ? up('flow') : down('flow'),
        done('place'),
      ),
    ),
    evidence: [...(sign === null ? [] : [lookEvidence(sign)]), placementEvidence(lot, `${lot.flow} flow`)],
  };
  return { lot, finding };
}
