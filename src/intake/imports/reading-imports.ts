import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import { mapInTurns } from '../../platform/yield-loop.ts';
import { type ImportedReading, saveImported, voidImported } from '../../water/readings/imported.ts';
import type { ParsedLine } from '../file/lines.rules.ts';
import type { ParsedFile } from '../file/parse-file.ts';
import type { Answers } from '../file/questions.rules.ts';
import { beginAcceptance, endAcceptance, takenLines } from './acceptance.ts';
import { markDuplicates } from './duplicates.ts';
import { findImport } from './imports.ts';
import { addLaboratories } from './laboratories.ts';
import { isFullyAnswered } from './preview.ts';

/**
 * Takes a file as its preview (made a moment before) shows it, in one transaction. Taking it again changes nothing.
 * Readings that came to be there meanwhile are left out.
 * @throws Refusal 404; 409 while something is asked, or when the answers changed meanwhile
 */
export async function acceptImport(
  work: Work,
  id: string,
  preview: ParsedFile | null,
  answers: Answers,
): Promise<{ taken: number }> {
  const begun = await beginAcceptance(work, {
    id,
    holds: 'readings',
    preview,
    answers,
    isAnswered: isFullyAnswered,
  });
  if ('before' in begun) return { taken: begun.before };
  await markDuplicates(readerOf(work.tx), begun.preview.lines);
  const lines = takenLines(begun.preview.lines);
  const methods = await addLaboratories(
    work,
    lines.map(({ parsed }) => parsed),
  );
  await saveImported(
    work,
    id,
    await mapInTurns(lines, ({ parsed, text }) => importedReading(parsed, text, methods)),
  );
  return endAcceptance(work, { id, ...begun, taken: lines.length });
}

/** Takes the readings of a file back: all that still stand are voided with the reason. @throws Refusal 404, 409 */
export async function withdrawImport(work: Work, id: string, reason: string): Promise<{ voided: number }> {
  const { fileName } = await findImport(work.tx, id);
  const voided = await voidImported(work, id, reason);
  if (voided === 0) throw new Refusal('None of its readings counts any more.', { status: 409 });
  work.record('import.withdrawn', { type: 'import', id }, { fileName, voided, reason });
  return { voided };
}

function importedReading(
  parsed: ParsedLine,
  text: string,
  methods: ReadonlyMap<string, string>,
): ImportedReading {
  const { systemId, quantity, at, reading, instrument, batch, note, measuredBy, entered } = parsed;
  const stated = parsed.uncertainty;
  const { value, below, above, uncertainty, unit } = reading;
  return {
    systemId,
    quantity,
    at,
    value,
    below,
    above,
    uncertainty: stated ?? uncertainty,
    enteredText: entered?.text ?? text,
    enteredUnit: entered?.unit ?? unit,
    factor: entered?.factor ?? 1,
    methodId: instrument.methodId ?? methods.get(`${quantity.code} ${instrument.laboratory}`) ?? null,
    kitId: instrument.kitId,
    laboratory: instrument.laboratory,
    batch,
    note,
    measuredBy,
  };
}
