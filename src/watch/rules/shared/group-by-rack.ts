import { type Finding, type FindingKey, mostUrgent, plainFinding } from '../../../alerts/finding.ts';
import type { LotFact, RackFact, SystemFacts } from '../../facts/types.ts';
import { lotName } from './place-words.ts';

/** A finding on one lot. */
export interface LotFinding {
  lot: LotFact;
  finding: Finding;
}

/** From this many lots of one rack on, the rack is what is told. */
const fewest = 3;
/** Lots named one by one as evidence. */
const named = 60;

/** Words of the alert on a rack, from the lots it gathers, worst first. */
export type RackWords = (
  rack: RackFact,
  lots: readonly LotFinding[],
) => Pick<Finding, 'title' | 'numbers' | 'number' | 'limit' | 'why' | 'advice' | 'firstStep'>;

/** The key under which a rule tells of a rack. */
export const rackKey = (rule: string, rackId: string): FindingKey => ({
  rule,
  subject: { type: 'rack', id: rackId },
  facet: '',
});

/**
 * What several lots of one rack share is told as one finding on the rack, with the lots listed: from three on, their own
 * findings open nothing any more, only keep open what is, gathered under the rack's.
 */
export function groupedByRack(
  facts: SystemFacts,
  found: readonly LotFinding[],
  wordsOf: RackWords,
): Finding[] {
  const racks = new Map(facts.racks.map((rack) => [rack.id, rack]));
  const groups = [...Map.groupBy(found, ({ lot }) => lot.rackId)];
  return groups.flatMap(([rackId, lots]) => {
    const rack = racks.get(rackId);
    const firing = lots.filter(({ finding }) => finding.status === 'fires').sort(worstFirst);
    const [worst] = firing;
    if (rack === undefined || worst === undefined || firing.length < fewest - 1)
      return lots.map(({ finding }) => finding);
    const gathered = firing.length >= fewest;
    const key = rackKey(worst.finding.rule, rackId);
    const own = lots.map(({ finding }) => ({
      ...finding,
      status: gathered && finding.status === 'fires' ? ('stays' as const) : finding.status,
      causes: [key, ...finding.causes],
    }));
    return [rackFinding(key, rack, firing, gathered, wordsOf), ...own];
  });
}

const worstFirst = (a: LotFinding, b: LotFinding) =>
  b.finding.score - a.finding.score || a.lot.code.localeCompare(b.lot.code);

function rackFinding(
  key: FindingKey,
  rack: RackFact,
  lots: readonly LotFinding[],
  gathered: boolean,
  wordsOf: RackWords,
): Finding {
  const findings = lots.map(({ finding }) => finding);
  const more = lots.length - named;
  return {
    ...plainFinding,
    ...key,
    systemId: findings[0]?.systemId ?? '',
    href: `/racks/${rack.id}`,
    status: gathered ? 'fires' : 'stays',
    severity: mostUrgent(findings.map(({ severity }) => severity)),
    score: Math.max(...findings.map(({ score }) => score)),
    ...wordsOf(rack, lots),
    figures: [
      { label: 'Lots', text: `${lots.length}${more > 0 ? `; the ${named} worst are listed` : ''}` },
      { label: 'Tank', text: rack.tankName },
    ],
    lots: lots.map(({ lot }) => lot.id),
    evidence: lots.slice(0, named).map(({ lot, finding }) => ({
      kind: 'placement' as const,
      id: lot.placementId,
      at: lot.placedAt,
      text: `${lotName(lot)}, ${lot.kindName}, on ${lot.place}`,
      note: finding.numbers,
    })),
    causes: commonCauses(findings),
  };
}

/** What would explain every one of them. */
function commonCauses([first, ...others]: readonly Finding[]): FindingKey[] {
  const same = (a: FindingKey, b: FindingKey) =>
    a.rule === b.rule && a.subject.id === b.subject.id && a.facet === b.facet;
  const shared = (first?.causes ?? []).filter((cause) =>
    others.every(({ causes }) => causes.some((one) => same(one, cause))),
  );
  return shared.filter(({ subject }) => subject.type !== 'lot');
}
