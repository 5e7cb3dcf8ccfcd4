import { advised, down, source } from '../../../alerts/advice.ts';
import { type Finding, plainFinding } from '../../../alerts/finding.ts';
import { flowLevel } from '../../../farm/racks/flow.rules.ts';
import { flowText } from '../../../farm/racks/words.ts';
import type { LotFact, SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { placeEnded } from '../endings/places.ts';
import { lookEvidence, signSince } from '../shared/conditions.ts';
import { groupedByRack, type LotFinding } from '../shared/group-by-rack.ts';
import { flowRangeWords, lotName, lotsWords, placementEvidence, whereWords } from '../shared/place-words.ts';
import { dateOfDay, figure } from '../shared/words.ts';

const parameters = {
  from: {
    label: 'Danger from flow class (still 0, low 1, medium 2, high 3)',
    unit: '',
    default: 2,
    low: 0,
    high: 3,
    source: 'own choice; practice of growers: as it grows into a plate, flow can lift it unless it is fixed',
  },
};

/** Loose where the stream can lift it. */
export const looseInFlow = defineRule({
  name: 'loose-in-flow',
  heading: 'Loose where flow can lift it',
  watches:
    'Looks for lots that were loose at their last check and are in medium or high flow, or in a jet: it tips them onto a neighbour or their face.',
  byKind: true,
  parameters,
  untried: 'Only the places of today are known to this rule, not those of the past.',
  quietHours: 0,
  ended: placeEnded,
  evaluate(facts, settings) {
    const found = facts.lots
      .map((lot) => findingOf(facts, lot, settings(lot.kindIds).from))
      .filter((one): one is LotFinding => one !== null);
    return groupedByRack(facts, found, (rack, lots) => ({
      title: `${rack.name}: ${lotsWords(lots.length)} came loose in the flow`,
      numbers: lots
        .map(({ lot }) => lotName(lot))
        .slice(0, 4)
        .join(', '),
      number: figure('Lots loose', lots.length, 0),
      limit: {
        ...figure('Lots of one rack that are one alert, from', 3, 0),
        source: 'own choice: three of one rack have one cause',
      },
      why: 'Several came loose on one rack: a pump that was turned or fell, not bad gluing alone.',
      ...advised(
        source(
          'Look where the pumps point. Set every lot upright and fix it. Look for flesh that lay on something.',
        ),
      ),
    }));
  },
});

function findingOf(facts: SystemFacts, lot: LotFact, from: number): LotFinding | null {
  const sign = signSince(lot, ['loose'], Number.NEGATIVE_INFINITY);
  const level = flowLevel(lot.flow);
  const reached = level !== null && level >= from;
  if (sign === null || !(reached || lot.jet)) return null;
  const strong = lot.jet || level === 3;
  const finding: Finding = {
    ...plainFinding,
    rule: 'loose-in-flow',
    subject: { type: 'lot', id: lot.id },
    systemId: facts.systemId,
    href: `/stock/${lot.code}`,
    status: 'fires',
    severity: strong ? 'now' : 'today',
    score: strong ? 3 : 2,
    title: `${whereWords(lot)}: loose in ${lot.jet ? 'a jet' : `${lot.flow} flow`}`,
    numbers: `seen ${dateOfDay(sign.day, facts)}`,
    number: {
      label: 'Flow there',
      value: level ?? from,
      text: lot.jet ? `${flowText(lot.flow)}, with a jet` : flowText(lot.flow),
      unit: '',
    },
    limit: {
      label: 'A loose lot is safe in',
      value: from - 1,
      text: from > 0 ? flowRangeWords(0, from - 1) : 'none',
      unit: '',
      source: parameters.from.source,
    },
    figures: [{ label: 'Kind', text: lot.kindName }],
    why: 'A loose piece is tipped onto a neighbour or onto its face; flesh that lies on something dies within hours to days.',
    ...advised(
      source('Fix it to its mount.'),
      source('Set it into less flow until that is done.', down('flow')),
    ),
    evidence: [
      lookEvidence(sign),
      placementEvidence(lot, `flow ${flowText(lot.flow)}${lot.jet ? ', a jet' : ''}`),
    ],
  };
  return { lot, finding };
}
