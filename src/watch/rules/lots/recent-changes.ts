import type { Finding } from '../../../alerts/finding.ts';
import type { ConditionState } from '../../../generated/prisma/enums.ts';
import { numberWords } from '../../../platform/words/numbers.ts';
import type { LotFact, SystemFacts } from '../../facts/types.ts';
import { lastLampChange } from '../light/lamp-changes.ts';
import { dateOfDay, nameOf } from '../shared/words.ts';

/** What changed this long before a lot was seen unwell can have to do with it. */
const before = 30;

interface Change {
  what: 'lamps' | 'move' | 'neighbour' | 'correction' | 'kit';
  text: string;
}

/** Likeliest first: practice of growers, no source. A new kit hurts nothing, but makes a level look other than it is. */
const orders: Partial<Record<ConditionState, readonly Change['what'][]>> = {
  receding: ['neighbour', 'move', 'correction', 'lamps', 'kit'],
  polyps_shut: ['neighbour', 'move', 'correction', 'lamps', 'kit'],
};
const usual: readonly Change['what'][] = ['lamps', 'move', 'correction', 'neighbour', 'kit'];

/** What changed in the month before a lot was seen unwell, the likeliest cause first; one line. */
export function recentChanges(
  facts: SystemFacts,
  lot: LotFact,
  state: ConditionState,
  seenDay: number,
): Finding['figures'] {
  const changes = [
    ...lampsTurned(facts, lot, seenDay),
    ...moved(facts, lot, seenDay),
    ...newNeighbours(facts, lot, seenDay),
    ...corrected(facts, seenDay),
    ...newKits(facts, seenDay),
  ];
  if (changes.length === 0) return [];
  const order = orders[state] ?? usual;
  const sorted = changes.sort((a, b) => order.indexOf(a.what) - order.indexOf(b.what));
  return [
    { label: 'Changed before it was seen, likeliest first', text: sorted.map(({ text }) => text).join('; ') },
  ];
}

const lately = (day: number, seenDay: number) => day <= seenDay && day >= seenDay - before;

function lampsTurned(facts: SystemFacts, lot: LotFact, seenDay: number): Change[] {
  const lamp = facts.lamps.find(({ id }) => id === lot.lampId);
  const turned = lamp === undefined ? null : lastLampChange(lamp, seenDay);
  if (turned === null || !lately(turned.day, seenDay)) return [];
  const { from, to, day } = turned;
  return [
    {
      what: 'lamps',
      text: `lamps from ${numberWords(from)} to ${numberWords(to)} %, ${dateOfDay(day, facts)}`,
    },
  ];
}

function moved(facts: SystemFacts, lot: LotFact, seenDay: number): Change[] {
  return lately(lot.placedDay, seenDay)
    ? [{ what: 'move', text: `set on ${lot.place}, ${dateOfDay(lot.placedDay, facts)}` }]
    : [];
}

/** Lots that came onto a cell beside its own. */
function newNeighbours(facts: SystemFacts, lot: LotFact, seenDay: number): Change[] {
  const beside = facts.lots.filter(
    (other) =>
      other.rackId === lot.rackId &&
      other.id !== lot.id &&
      other.placedDay > lot.placedDay &&
      lately(other.placedDay, seenDay) &&
      other.cells.some((cell) =>
        lot.cells.some(
          (own) => Math.max(Math.abs(cell.row - own.row), Math.abs(cell.column - own.column)) <= 2,
        ),
      ),
  );
  return beside.slice(0, 3).map(({ code, kindName, placedDay }) => ({
    what: 'neighbour',
    text: `${code} (${kindName}) set beside it, ${dateOfDay(placedDay, facts)}`,
  }));
}

function corrected(facts: SystemFacts, seenDay: number): Change[] {
  return facts.corrections
    .filter(({ fromDay, toDay }) => fromDay <= seenDay && (toDay === null || toDay >= seenDay - before))
    .map(({ quantityCode, fromDay }) => ({
      what: 'correction',
      text: `a correction of ${nameOf(facts, quantityCode)} since ${dateOfDay(fromDay, facts)}`,
    }));
}

function newKits(facts: SystemFacts, seenDay: number): Change[] {
  return facts.kits
    .filter(({ openedDay, probe }) => !probe && lately(openedDay, seenDay))
    .map(({ label, openedDay }) => ({
      what: 'kit',
      text: `kit ${label} opened ${dateOfDay(openedDay, facts)}, so a level may only look changed`,
    }));
}
