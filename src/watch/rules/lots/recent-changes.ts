import type { Finding } from '../../../alerts/finding.ts';
import type { EventKind, OffThing } from '../../../generated/prisma/enums.ts';
import { numberWords } from '../../../platform/words/numbers.ts';
import type { LotFact, SystemFacts } from '../../facts/types.ts';
import { lastLampChange } from '../light/lamp-changes.ts';
import type { Onset } from '../shared/conditions.ts';
import { jumpWords, waterJumps } from '../shared/water-jump.ts';
import { dateOfDay, nameOf, percent } from '../shared/words.ts';

/** What can have to do with how a lot looks. */
type What =
  | 'lamps'
  | 'move'
  | 'neighbour'
  | 'flow'
  | 'fault'
  | 'event'
  | 'dose'
  | 'change'
  | 'level'
  | 'feeding'
  | 'arrival'
  | 'correction'
  | 'kit';

interface Change {
  what: What;
  day: number;
  /** How long it went on, where it did. */
  until?: number;
  text: string;
}

/**
 * Days within which each can show, before the first sign: what strikes at once (flow, a fault, a dose, a large change)
 * shows within days, light and neighbours within weeks. Practice of growers and own choice.
 */
const leads: Readonly<Record<What, number>> = {
  lamps: 30,
  move: 30,
  neighbour: 30,
  flow: 7,
  fault: 10,
  event: 14,
  dose: 7,
  change: 7,
  level: 7,
  feeding: 21,
  arrival: 30,
  correction: 30,
  kit: 30,
};

const shown = 6;

/**
 * What changed before a lot was first seen unwell, the latest first; one line. Of one lot alone nothing says which of them
 * did it: where several are unwell, they are compared with the others (`watch/affected`). A change after the first sign is
 * no cause of it. One between the last look at which it was well and the first at which it was not may have come after it
 * began, and is called possible.
 */
export function recentChanges(
  facts: SystemFacts,
  lot: LotFact,
  { lastGood, firstBad }: Onset,
): Finding['figures'] {
  const from = (what: What) => Math.min(lastGood?.day ?? firstBad.day, firstBad.day) - leads[what];
  const before = changesOf(facts, lot, firstBad.day)
    .filter(({ what, day, until = day }) => day < firstBad.day && until >= from(what))
    .sort((a, b) => b.day - a.day);
  if (before.length === 0) return [];
  const said = before.slice(0, shown).map(({ text, day }) => {
    const between = lastGood !== null && day > lastGood.day;
    return `${text}, ${dateOfDay(day, facts)}${between ? ' (possible: after it was last seen well)' : ''}`;
  });
  return [{ label: 'Changed before it was seen, latest first', text: said.join('; ') }];
}

function changesOf(facts: SystemFacts, lot: LotFact, seenDay: number): Change[] {
  return [
    ...lampsTurned(facts, lot, seenDay),
    { what: 'move', day: lot.placedDay, text: `set on ${lot.place}` },
    ...brightened(lot),
    ...newLots(facts, lot),
    ...stopped(facts),
    ...facts.faults.map(
      ({ equipment, seen, day }): Change => ({
        what: 'fault',
        day,
        text: equipment === '' ? seen : `${equipment}: ${seen}`,
      }),
    ),
    ...facts.events.map(({ kind, day }): Change => ({ what: 'event', day, text: events[kind] })),
    ...waterWork(facts),
    ...waterJumps(facts).map(
      (jump): Change => ({
        ...{ what: 'level', day: jump.from.day, until: jump.to.day },
        text: jumpWords(facts, jump),
      }),
    ),
    ...newFoods(facts),
    ...facts.corrections.map(
      ({ quantityCode, fromDay, toDay }): Change => ({
        what: 'correction',
        day: fromDay,
        until: toDay ?? seenDay,
        text: `a correction of ${nameOf(facts, quantityCode)} begun`,
      }),
    ),
    ...facts.kits
      .filter(({ probe }) => !probe)
      .map(
        ({ label, openedDay }): Change => ({
          what: 'kit',
          day: openedDay,
          text: `kit ${label} opened, so a level may only look changed`,
        }),
      ),
  ];
}

const events: Readonly<Record<EventKind, string>> = {
  power_cut: 'power was out',
  media_changed: 'filter media changed',
  reactor_started: 'a reactor started',
  reactor_stopped: 'a reactor stopped',
  mass_loss: 'many animals lost',
  stock_sold: 'much stock sold',
  new_additive: 'a new additive',
  new_salt: 'a new salt',
};

function lampsTurned(facts: SystemFacts, lot: LotFact, seenDay: number): Change[] {
  const lamp = facts.lamps.find(({ id }) => id === lot.lampId);
  // Settings made later are left out before the last change is looked for: turning the lamps down afterwards hides nothing.
  const settings = lamp?.settings.filter(({ day }) => day < seenDay) ?? [];
  const turned = lamp === undefined ? null : lastLampChange({ ...lamp, settings }, seenDay);
  if (turned === null) return [];
  const { from, to, day } = turned;
  return [{ what: 'lamps', day, text: `lamps from ${numberWords(from)} to ${numberWords(to)} %` }];
}

/** A step of light this large that no other change on the list explains; own choice: what a survey and a step leave open. */
const step = 1.15;

/** Light that rose, from where it stood before too. */
const brightened = ({ light, placedDay }: LotFact): Change[] =>
  light.slice(1).flatMap(({ fromDay, par }, i) => {
    const was = light[i]?.par ?? par;
    if (par < step * was || Math.abs(fromDay - placedDay) < 1) return [];
    return [
      {
        what: 'move',
        day: fromDay,
        text: `its light from ${numberWords(was, 0)} to ${numberWords(par, 0)} µmol/(m² s)`,
      },
    ];
  });

/** Lots that came onto a cell beside its own, and into its water. */
function newLots(facts: SystemFacts, lot: LotFact): Change[] {
  const others = facts.lots.filter(({ id, placedDay }) => id !== lot.id && placedDay > lot.placedDay);
  const beside = others.filter((other) => other.rackId === lot.rackId && isBeside(lot, other));
  const far = others.filter((other) => !beside.includes(other) && other.parentId === null);
  return [
    ...beside.slice(-3).map(
      ({ code, kindName, placedDay }): Change => ({
        what: 'neighbour',
        day: placedDay,
        text: `${code} (${kindName}) set beside it`,
      }),
    ),
    ...far.slice(-2).map(
      ({ code, place, placedDay }): Change => ({
        what: 'arrival',
        day: placedDay,
        text: `${code} set on ${place}`,
      }),
    ),
  ];
}

const isBeside = (lot: LotFact, other: LotFact): boolean =>
  other.cells.some((cell) =>
    lot.cells.some((own) => Math.max(Math.abs(cell.row - own.row), Math.abs(cell.column - own.column)) <= 2),
  );

/** What moves, heats or lights the water. */
const matters: readonly OffThing[] = [
  'all_flow',
  'return_pump',
  'wave_pump',
  'air',
  'skimmer',
  'heating',
  'cooling',
  'doser',
  'top_up',
  'light',
  'protection',
];
/** Off for less than this and nothing shows; own choice. */
const briefDays = 1 / 24;

const stopped = ({ switchedOff }: SystemFacts): Change[] =>
  switchedOff
    .filter(
      ({ thing, day, onDay }) => matters.includes(thing) && (onDay === null || onDay - day >= briefDays),
    )
    .map(({ what, day, onDay }) => ({
      what: 'flow',
      day,
      until: onDay ?? Number.POSITIVE_INFINITY,
      text: `${what} off${onDay === null ? '' : ` for ${numberWords(Math.round((onDay - day) * 24))} h`}`,
    }));

/** Changes of so much of the water at once, and doses that were unusual when they were logged. Own choice. */
const largeChange = 0.25;

const waterWork = ({ changes, doses }: SystemFacts): Change[] => [
  ...changes
    .filter(({ fraction }) => fraction >= largeChange)
    .map(
      ({ fraction, day }): Change => ({
        what: 'change',
        day,
        text: `${percent(fraction)} of the water changed`,
      }),
    ),
  ...doses
    .filter(({ concerns = [] }) => concerns.length > 0)
    .map(({ substance, day }): Change => ({ what: 'dose', day, text: `an unusual dose of ${substance}` })),
];

/** Foods that were never logged before, where feedings were logged before them. */
function newFoods({ feedings }: SystemFacts): Change[] {
  const first = new Map<string, number>();
  for (const { food, day } of feedings) if (!first.has(food)) first.set(food, day);
  const since = feedings[0]?.day ?? 0;
  return [...first]
    .filter(([food, day]) => food !== '' && day > since + 7)
    .map(([food, day]) => ({ what: 'feeding', day, text: `${food} fed for the first time` }));
}
