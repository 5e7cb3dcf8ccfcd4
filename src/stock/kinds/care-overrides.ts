import type { Work } from '../../platform/change.ts';
import type { JournalSubject } from '../../platform/journal-kinds.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import { type Standing, seenOf } from '../../platform/seen.ts';
import type { Reader } from '../../platform/service.ts';
import { FIGURES, type FigureName } from './care-figures.ts';

/** Whose figure it is: a kind's, or one lot's own. */
export type FigureOwner = { kindId: string } | { lotId: string };

/** A new value of a figure. */
export interface FigureEdit {
  figure: FigureName;
  /** Canonical units. */
  low: number | null;
  high: number | null;
  words: string | null;
  /** Why; kept as the figure's source. */
  reason: string;
}

const subjectOf = (owner: FigureOwner): JournalSubject<'care.changed'> =>
  'kindId' in owner ? { type: 'kind', id: owner.kindId } : { type: 'lot', id: owner.lotId };

const whereOf = (owner: FigureOwner, figure: string) =>
  'kindId' in owner
    ? { kindId_figure: { kindId: owner.kindId, figure } }
    : { lotId_figure: { lotId: owner.lotId, figure } };

/** What a new value of a figure writes over: the owner's own, null where it inherits. */
export const figureStanding = (owner: FigureOwner, figure: FigureName): Standing => ({
  what: `this figure (${FIGURES[figure].label.toLowerCase()})`,
  read: async ({ careFigure }) => {
    const row = await careFigure.findUnique({ where: whereOf(owner, figure) });
    return row === null ? null : partsOf(row);
  },
});

/** What a new value of each figure of a lot is held to, by figure. */
export async function figuresSeen({ careFigure }: Reader, lotId: string): Promise<Record<string, string>> {
  const rows = await careFigure.findMany({ where: { lotId } });
  const own = new Map(rows.map((row) => [row.figure, partsOf(row)]));
  return Object.fromEntries(Object.keys(FIGURES).map((figure) => [figure, seenOf(own.get(figure) ?? null)]));
}

/** Marks every system with lots that inherit the figure for an evaluation of its rules. */
async function touchSystemsOfOwner(work: Work, owner: FigureOwner): Promise<void> {
  const id = subjectOf(owner).id;
  const systems = await work.tx.$queryRaw<{ id: string }[]>`
    SELECT DISTINCT lot_place.system_id AS id FROM lot_place
      JOIN lot ON lot.id = lot_place.lot_id JOIN kind ON kind.id = lot.kind_id
     WHERE ${id}::uuid IN (lot.id, kind.id, kind.parent_id)`;
  for (const system of systems) work.reevaluate(system.id);
}

/**
 * Sets a figure of a kind, or of one lot over its kind's, as the farm's own choice with the reason as its source. The
 * earlier figure stays in the journal.
 */
export async function setFigure(work: Work, owner: FigureOwner, edit: FigureEdit): Promise<void> {
  const { figure, low, high, words, reason } = edit;
  const where = whereOf(owner, figure);
  const before = await work.tx.careFigure.findUnique({ where });
  const value = { low, high, words, basis: 'own_choice', source: reason } as const;
  await work.tx.careFigure.upsert({ where, create: { ...owner, figure, ...value }, update: value });
  const was = before === null ? null : partsOf(before);
  work.record('care.changed', subjectOf(owner), { figure, before: was, after: value });
  await touchSystemsOfOwner(work, owner);
}

/**
 * Removes a figure of the farm's own choice, so that the inherited one holds again.
 * @throws Refusal 404 when there is none; 422 for a figure of the library
 */
export async function dropFigure(
  work: Work,
  owner: FigureOwner,
  figure: FigureName,
  reason: string,
): Promise<void> {
  const where = whereOf(owner, figure);
  const before = await work.tx.careFigure.findUnique({ where });
  if (before === null) throw notFound('This figure');
  if (before.basis !== 'own_choice') {
    throw new Refusal('This figure comes with the care library. Set another one over it instead.');
  }
  await work.tx.careFigure.delete({ where });
  work.record('care.dropped', subjectOf(owner), { figure, before: partsOf(before), reason });
  await touchSystemsOfOwner(work, owner);
}

function partsOf(row: {
  low: number | null;
  high: number | null;
  words: string | null;
  basis: string;
  source: string;
}) {
  const { low, high, words, basis, source } = row;
  return { low, high, words, basis, source };
}
