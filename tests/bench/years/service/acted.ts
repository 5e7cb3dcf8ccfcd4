import type { Action, ActionKind } from '../../../../src/watch/answers/actions.ts';
import { onDay } from '../../../watch/facts.ts';
import type { System } from '../farm/farm.ts';
import type { SystemBook } from '../hands/book.ts';
import type { KnownSystem } from './facts.ts';

const plain = { who: 'the bench hand', quantityCode: null, amount: null, before: null, contents: null };

/** What the hands wrote down as the watch's own query would give it: what answers alerts, and what confirms the answer. */
export function actionsOf(system: System, book: SystemBook, known: KnownSystem): Action[] {
  const of = (kind: ActionKind, at: number, subjectId: string, more: Partial<Action> = {}): Action => ({
    ...plain,
    ...{ kind, at: onDay(at), subjectId, name: kind },
    ...more,
  });
  return [
    ...book.lamps.map(({ at, rack, percent }) =>
      of('lamps', at, known.lampId(rack), { amount: percent, before: 70 }),
    ),
    ...book.moves.map(({ at, lot }) => of('move', at, lot)),
    ...book.changes.map(({ at, part }) => of('water change', at, system.id, { amount: part * system.fullL })),
    ...book.doses.map(({ at, rise }) =>
      of('dose', at, system.id, { quantityCode: 'alkalinity', amount: rise }),
    ),
    ...book.looks.map(({ at, lot }) => of('look', at, lot)),
    ...book.off.flatMap(({ backAt }) =>
      backAt === null ? [] : [of('running', backAt, system.id, { quantityCode: 'return_pump' })],
    ),
    ...book.bottles.flatMap(({ n, at, checks, putAwayAt }) => [
      ...(n === 0 ? [] : [of('kit opened', at, known.kitId(n), { quantityCode: 'alkalinity' })]),
      ...checks.map((check) => of('check', check.at, known.kitId(n), { quantityCode: 'alkalinity' })),
      ...(putAwayAt === null
        ? []
        : [of('kit put away', putAwayAt, known.kitId(n), { quantityCode: 'alkalinity' })]),
    ]),
    ...book.checked.flatMap(({ at, thing }) => {
      const serviced = { doser: 'doser', heater: 'heater', 'top-up': 'top_up', pumps: 'return_pump' }[thing];
      const contents = thing === 'doser' ? { alkalinity: 1 } : null;
      return serviced === undefined
        ? []
        : [of('serviced', at, system.id, { quantityCode: serviced, contents })];
    }),
  ];
}
