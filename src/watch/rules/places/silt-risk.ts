import { advised, again, correct, optimise, source as stop, up } from '../../../alerts/advice.ts';
import { type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { flowLevel } from '../../../farm/racks/flow.rules.ts';
import type { LotFact, RackFact, SystemFacts } from '../../facts/types.ts';
import { defineRule } from '../../rule-definition/rule.ts';
import { placeEnded } from '../endings/places.ts';
import { lookEvidence, signSince } from '../shared/conditions.ts';
import { groupedByRack, type LotFinding } from '../shared/group-by-rack.ts';
import { lotsWords, placementEvidence, whereWords } from '../shared/place-words.ts';
import { figure, percent, smallLength } from '../shared/words.ts';

const parameters = {
  low: {
    label: 'A rack is low from this part of the tank’s height down',
    unit: 'parts of 1',
    default: 0.67,
    low: 0.3,
    high: 1,
    source: 'own choice: the lowest third; practice of growers: near the bottom, no figure',
  },
};

/** Practice of growers, and sediment studies: what lies on tissue kills within weeks. */
const source =
  'practice of growers: on rock rather than fine sand; sediment lying on tissue kills within weeks (PMC3360596)';

/** Little flow, low in the tank, on a fine base: grains lie in the valleys. */
export const siltRisk = defineRule({
  name: 'silt-risk',
  heading: 'Silt on a lot',
  watches:
    'Looks for lots on sand, low in the tank, in still or low flow, of kinds that are not kept on sand; and for silt seen on a lot in little flow.',
  byKind: true,
  parameters,
  untried: 'Only the places of today are known to this rule, not those of the past.',
  quietHours: 0,
  ended: placeEnded,
  evaluate(facts, settings) {
    const racks = new Map(facts.racks.map((rack) => [rack.id, rack]));
    const found = facts.lots
      .map((lot) => findingOf(facts, lot, racks.get(lot.rackId), settings(lot.kindIds).low))
      .filter((one): one is LotFinding => one !== null);
    return groupedByRack(facts, found, (rack, lots) => ({
      title: `${rack.name}: ${lotsWords(lots.length)} where silt lies`,
      numbers: `${lots.filter(({ finding }) => finding.severity !== 'watch').length} with silt seen on them`,
      number: figure('Lots', lots.length, 0),
      limit: {
        ...figure('Lots of one rack that are one alert, from', 3, 0),
        source: 'own choice: three of one rack have one cause',
      },
      why: 'Grains and detritus lie in the valleys where water hardly moves, and the flesh beneath dies back.',
      ...advised(
        stop('Blow them clean today.'),
        correct('Then lift the rack, give it more flow, or plan a move of the lots listed.', up('flow')),
      ),
    }));
  },
});

function findingOf(
  facts: SystemFacts,
  lot: LotFact,
  rack: RackFact | undefined,
  low: number,
): LotFinding | null {
  const level = flowLevel(lot.flow);
  const weak = level !== null && level <= 1;
  const sign = signSince(lot, ['silt'], lot.placedDay);
  const fine = lot.base === 'sand' && !bearsSand(lot.care.base?.words ?? null);
  const depth = rack?.tankHeightMm == null ? null : lot.depthMm / rack.tankHeightMm;
  const deep = depth === null || depth >= low;
  if (!weak || !((fine && deep) || sign !== null)) return null;
  const severity: Severity = sign === null ? 'watch' : (sign.grade ?? 1) >= 3 ? 'now' : 'today';
  const depthText = depth === null ? '' : `, ${percent(Math.min(1, depth))} of the way down`;
  const finding: Finding = {
    ...plainFinding,
    rule: 'silt-risk',
    subject: { type: 'lot', id: lot.id },
    systemId: facts.systemId,
    href: `/stock/${lot.code}`,
    status: 'fires',
    severity,
    score: { watch: 1, today: 2, now: 4 }[severity] + (lot.flow === 'still' ? 0.5 : 0),
    title: `${whereWords(lot)}: ${sign === null ? 'silt will lie on it there' : 'silt lies on it'}`,
    numbers: `${lot.flow} flow, on ${lot.base === 'egg_crate' ? 'egg-crate' : lot.base}${depthText}`,
    number: smallLength('Depth', lot.depthMm),
    limit: {
      label: 'Its kind is kept on',
      value: 0,
      text: lot.care.base?.words ?? 'not stated',
      unit: '',
      source: lot.care.base?.source ?? source,
    },
    figures: [{ label: 'Kind', text: lot.kindName }],
    why: `Grains and detritus lie in the valleys where water hardly moves, and the flesh beneath dies back within weeks (${source}).`,
    ...advised(
      ...(sign === null
        ? [
            optimise('Lift it onto rock or egg-crate, or give it more flow.', up('flow')),
            stop('Blow it clean at each round.'),
          ]
        : [
            stop('Blow it clean today.'),
            correct('Then lift it or give it more flow.', up('flow')),
            again('Look again tomorrow.'),
          ]),
    ),
    evidence: [...(sign === null ? [] : [lookEvidence(sign)]), placementEvidence(lot, `${lot.flow} flow`)],
  };
  return { lot, finding };
}

/** True when a kind's words name sand other than to warn of it; false where nothing is stated. */
export function bearsSand(words: string | null): boolean {
  if (words === null) return false;
  const clauses = words
    .split(/[.;:,]/)
    .map((clause) => clause.replace(/\b(rather than|not|never|no)\b.*/i, ''));
  return clauses.some((clause) => /\bsand\b/i.test(clause));
}
