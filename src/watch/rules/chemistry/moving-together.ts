import { advised, air, done, measure, people } from '../../../alerts/advice.ts';
import { type Finding, type FindingKey, plainFinding } from '../../../alerts/finding.ts';
import { andWords } from '../../../platform/words/lists.ts';
import { say, sayDifference } from '../../../water/quantities/quantities.ts';
import { movingTogether, type SharedMove } from '../../facts/together.rules.ts';
import type { SystemFacts } from '../../facts/types.ts';
import type { ParameterSet } from '../../rule-definition/parameters.ts';
import { defineRule, type SettingsFor } from '../../rule-definition/rule.ts';
import { facetEnded } from '../endings/water.ts';
import { amount, dateOfDay, nameOf, quantityNamed } from '../shared/words.ts';

const parameters = {
  systems: {
    label: 'One alert when so many systems go the same way',
    unit: 'systems',
    default: 3,
    low: 2,
    high: 20,
    source:
      'own choice: two may be chance, three of one site in one day hardly are; where fewer were read, all of them have to say so by three standard deviations',
  },
};

const name = 'moving-together';

/** A quantity that falls or rises in several systems of one site at once: told as one matter. */
export const movingTogetherRule = defineRule({
  name,
  heading: 'Several systems move together',
  watches:
    'Warns when pH, temperature, salinity, alkalinity or oxygen went the same way within a day in three systems of one site or more, and in half of those that were read; where only two were read, in both and more clearly: each beside its own values of the same hour. It names what they share: the air of the room, a circuit, a kit, a probe’s standard.',
  byKind: false,
  parameters,
  quietHours: 24,
  untried: 'It compares systems with each other; tried on the past, each is judged alone.',
  ended: facetEnded,
  evaluate(facts, settings) {
    return movingTogether(facts.siteMoves, facts.quantities, settings().systems)
      .filter(({ moves }) => moves.some(({ systemId }) => systemId === facts.systemId))
      .map((shared) => finding(facts, shared));
  },
});

/**
 * The key under which a quantity that falls in several systems at once is told of this one; null where this one does not
 * fall with others.
 */
export function fallsTogetherKey(
  facts: SystemFacts,
  code: string,
  { of }: Pick<SettingsFor<ParameterSet>, 'of'>,
): FindingKey | null {
  const { systems } = of(movingTogetherRule)();
  const shared = movingTogether(facts.siteMoves, facts.quantities, systems).some(
    (one) =>
      one.code === code &&
      one.side === 'below' &&
      one.moves.some(({ systemId }) => systemId === facts.systemId),
  );
  return shared ? { rule: name, subject: { type: 'system', id: facts.systemId }, facet: code } : null;
}

/** Falls from which it is act now, as for one system that sinks fast by itself: each may be part of this alert. Own choice. */
const fastFalls: Readonly<Record<string, number>> = { ph: 0.4, oxygen: 1 };

const isFast = ({ code, side, moves }: SharedMove): boolean =>
  side === 'below' && moves.some(({ by }) => -by >= (fastFalls[code] ?? Infinity));

function finding(facts: SystemFacts, shared: SharedMove): Finding {
  const { code, side, moves } = shared;
  const quantity = quantityNamed(facts, code);
  const own = moves.find(({ systemId }) => systemId === facts.systemId) as SharedMove['moves'][number];
  const first = moves.map(({ systemId }) => systemId).sort()[0] as string;
  const what = nameOf(facts, code);
  const causes = causesOf(facts, shared);
  return {
    ...plainFinding,
    rule: name,
    subject: { type: 'system', id: facts.systemId },
    facet: code,
    systemId: facts.systemId,
    href: `/water/systems/${facts.systemId}?quantity=${code}`,
    status: 'fires',
    severity: isFast(shared) ? 'now' : 'today',
    score: moves.length,
    title: `${what} ${side === 'below' ? 'falls' : 'rises'} in ${andWords(moves.map((move) => move.name))} together: look for one cause`,
    numbers: moves
      .map(
        ({ name: system, value, by }) =>
          `${system} ${say(quantity, value)}, ${sayDifference(quantity, Math.abs(by), value)} ${side} its usual`,
      )
      .join('; '),
    number: amount(quantity, `Last ${what} here`, own.value),
    limit: {
      ...amount(quantity, 'Usual at this hour', own.value - own.by),
      source: 'the middle of this system’s own values of the same hour on the ten days before',
    },
    figures: causes.map((text, i) => ({ label: i === 0 ? 'What they share' : 'And', text })),
    why: `Systems that have no water in common seldom move together by chance. It may be what they share. ${causes.join('. ')}.`,
    ...advised(
      ...((code === 'ph' || code === 'oxygen') && side === 'below'
        ? [
            people('If people feel unwell, leave the room: carbon dioxide.'),
            air(
              'Open windows and doors, let outside air to the skimmers. Look whether pumps turn and air bubbles in each of them.',
              done('air'),
            ),
          ]
        : []),
      measure(
        'Look at what they share. Test one of them again with another instrument before any is corrected.',
      ),
      ...(code === 'ph' && side === 'below' ? [measure('Add no buffer.')] : []),
    ),
    evidence: moves.map(({ readingId, at, value, name: system, probe, kitId }) => ({
      kind: probe && kitId !== null ? ('probe' as const) : ('reading' as const),
      id: probe && kitId !== null ? kitId : readingId,
      at,
      text: say(quantity, value),
      note: system,
    })),
    causes:
      first === facts.systemId ? [] : [{ rule: name, subject: { type: 'system', id: first }, facet: code }],
  };
}

/** What the systems share, in the order in which it is looked at; own choice. */
function causesOf(facts: SystemFacts, { code, moves }: SharedMove): string[] {
  const [first] = moves;
  const kits = new Set(moves.map(({ kitId }) => kitId));
  const sameKit =
    kits.size === 1 && first?.kitId != null
      ? [`All were read with ${first.kitLabel}: the instrument may be it`]
      : [];
  const checked = new Set(
    moves.map(({ checkedDay }) => (checkedDay === null ? null : Math.floor(checkedDay))),
  );
  const [day] = checked;
  const sameStandard =
    kits.size > 1 && checked.size === 1 && day != null
      ? [`All their instruments were last in a standard on ${dateOfDay(day, facts)}: the standard may be it`]
      : [];
  const common = (first?.circuits ?? []).filter((circuit) =>
    moves.every(({ circuits }) => circuits.includes(circuit)),
  );
  const circuit = common.map((one) => `All are on the circuit ${one}: see what has stopped there`);
  return [...sameKit, ...circuit, ...(rooms[code] === undefined ? [] : [rooms[code]]), ...sameStandard];
}

/** What the room and shared supplies do to it; common practice. */
const rooms: Readonly<Record<string, string>> = {
  ph: 'The air of the room: carbon dioxide from people, a heater with a flame or shut windows',
  oxygen: 'Air and power of the room: what drives air and pumps',
  temperature: 'The room: its heating or cooling, a window, the sun',
  salinity: 'Water made for all: the purifier, the salt mix, the top-up',
  alkalinity: 'What is dosed from one container or mixed in one batch, and one kit or its reagent',
};
