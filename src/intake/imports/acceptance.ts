import type { ImportHolds } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Answers } from '../file/questions.rules.ts';
import { findImport } from './imports.ts';
import { refusedRows } from './refused-rows.ts';

/** A file as its preview (made a moment before) showed it; null where it was taken before. */
interface Offered<Preview> {
  id: string;
  holds: ImportHolds;
  preview: Preview | null;
  answers: Answers;
  /** True when every question of a preview is answered. */
  isAnswered: (preview: Preview) => boolean;
}

/**
 * Begins to take a file: one file after the other, since two with the same rows must see each other's. A file that is
 * taken already is not taken again: `before` then says how much was.
 * @throws Refusal 404; 409 while something is asked, or when the answers changed meanwhile
 */
export async function beginAcceptance<Preview>(
  work: Work,
  { id, holds, preview, answers, isAnswered }: Offered<Preview>,
): Promise<{ fileName: string; preview: Preview } | { before: number }> {
  await work.tx.$executeRaw`SELECT pg_advisory_xact_lock(hashtext('import'))`;
  const found = await findImport(work.tx, id, holds);
  if (found.acceptedAt !== null || preview === null) {
    work.record('import.asked again', { type: 'import', id });
    return { before: found.taken };
  }
  if (JSON.stringify(found.answers) !== JSON.stringify(answers))
    throw new Refusal('Somebody answered differently meanwhile. Look at the preview again.', { status: 409 });
  if (!isAnswered(preview))
    throw new Refusal('Answer what is asked first; “leave these rows out” is an answer too.', {
      status: 409,
    });
  return { fileName: found.fileName, preview };
}

/** What can be taken of a file. @throws Refusal 409 when it is nothing */
export function takenLines<Line extends { state: string; parsed: unknown }>(
  lines: readonly Line[],
): (Line & { parsed: NonNullable<Line['parsed']> })[] {
  const taken = lines.filter(
    (line): line is Line & { parsed: NonNullable<Line['parsed']> } =>
      line.state === 'taken' && line.parsed !== null,
  );
  if (taken.length === 0) throw new Refusal('This file has nothing to load.', { status: 409 });
  return taken;
}

interface ReadRows {
  rows: readonly (readonly string[])[];
  lines: readonly { row: number; column: string; state: string; reason: string }[];
  format: { layout: { headRow: number; columns: readonly unknown[] } };
}

/** Notes that a file was taken, with the rows that were not as a file of their own. */
export async function endAcceptance(
  work: Work,
  { id, fileName, preview, taken }: { id: string; fileName: string; preview: ReadRows; taken: number },
): Promise<{ taken: number }> {
  const refused = refusedRows({ ...preview, columns: preview.format.layout.columns.length });
  await work.tx.import.update({
    where: { id },
    data: { acceptedAt: work.now, taken, refused: refused.text },
  });
  work.record('import.taken', { type: 'import', id }, { fileName, taken, refused: refused.rows });
  return { taken };
}
