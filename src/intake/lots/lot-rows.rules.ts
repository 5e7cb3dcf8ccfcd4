import { createHash } from 'node:crypto';
import { isNotTaken, type NotTaken } from '../file/questions.rules.ts';
import { isRemark, isTotals } from '../file/sheet-shape.rules.ts';
import type { LotColumnMeaning } from './columns.rules.ts';
import { wordsForNote } from './in-words.rules.ts';
import {
  kindOf,
  motherOf,
  ownCodeOf,
  piecesOf,
  placeOf,
  priceOf,
  textOf,
  tradeNameOf,
} from './lot-cells.rules.ts';
import { cellsOf, type FileLot, type LotLine, type LotReader } from './lot-reader.rules.ts';
import { receivedOf } from './received.rules.ts';
import { sizeOf } from './sizes.rules.ts';

/** The lines of one row: the lot it becomes, or one line for each fault. */
export function readLotRow(reader: LotReader, cells: readonly string[], row: number): LotLine[] {
  if (cells.every((cell) => cell === '')) return [];
  const row_ = cellsOf(reader, cells);
  const whole = (state: LotLine['state'], reason: string, parsed: FileLot | null): LotLine[] => [
    {
      row,
      column: '',
      text: row_.text('ownCode') || row_.text('name') || row_.text('kind'),
      state,
      reason,
      parsed,
    },
  ];
  if (isTotals(cells)) return whole('refused', 'A row of totals, not of a lot.', null);
  const isNamed = row_.text('kind') !== '' || row_.text('name') !== '';
  if (!isNamed && isRemark(cells, reader.layout.columns.length))
    return whole('refused', 'One cell alone: a remark, not a lot.', null);
  const importRow = rowKey(reader, cells);
  if (reader.cameBefore.has(importRow))
    return whole('present', `is here already, as ${reader.cameBefore.get(importRow)?.code}`, null);
  const given = reader.given.get(row_.text('givenCode').toUpperCase());
  if (given !== undefined)
    return whole('present', `is here already, as ${given.code}; a file changes nothing of it`, null);
  const wide = cells.slice(reader.layout.columns.length).some((cell) => cell !== '');
  if (wide && reader.layout.headRow > 0)
    return whole(
      'refused',
      `The row has ${cells.length} cells, the head ${reader.layout.columns.length}. A comma without quotes around it?`,
      null,
    );
  const faults: LotLine[] = [];
  const take = <T>(meaning: LotColumnMeaning, value: T | NotTaken): T | null => {
    if (value === null || typeof value !== 'object' || !isNotTaken(value)) return value as T;
    faults.push({ row, column: row_.head(meaning), text: row_.text(meaning), ...value, parsed: null });
    return null;
  };
  const kind = take(row_.text('kind') === '' ? 'name' : 'kind', kindOf(reader, row_, row));
  const lot = {
    ownCode: take('ownCode', ownCodeOf(reader, row_, row)) ?? '',
    tradeName: take('name', tradeNameOf(row_, kind)) ?? '',
    kindId: kind?.id ?? '',
    kindName: kind?.name ?? '',
    pieces: take('pieces', piecesOf(reader, row_, row)) ?? 0,
    isMother: isTicked(row_.text('isMother')),
    mother: take('mother', motherOf(reader, row_, row)),
    place: take('slots', placeOf(reader, row_, row)),
    sizeMm: take('size', sizeOf(reader, row_, row)),
    receivedAt: take('received', receivedOf(reader, row_, row)) ?? reader.stock.now,
    origin: take('origin', textOf(row_, 'origin', 300)) ?? '',
    permit: take('permit', textOf(row_, 'permit', 200)) ?? '',
    priceMinor: take('price', priceOf(reader, row_, row)),
    note: take('note', textOf(row_, 'note', 2000)) ?? '',
    importRow,
  };
  if (faults.length > 0) return faults;
  lot.note = [lot.note, wordsForNote(reader, row_, lot)].filter((part) => part !== '').join('; ');
  for (const id of lot.place?.slotIds ?? []) reader.slotsTaken.set(id, row);
  return whole('taken', '', lot);
}

const isTicked = (text: string) => /^(y|yes|x|true|1|mother)$/i.test(text);

/** What a row says, as a hash that does not depend on the order of the columns; a second row alike gets another. */
function rowKey(reader: LotReader, cells: readonly string[]): string {
  const said = [...reader.columnOf].map(([meaning, i]) => `${meaning}=${plainText(cells[i] ?? '')}`).sort();
  const content = said.filter((one) => !one.endsWith('=')).join('\n');
  const times = reader.seen.get(content) ?? 0;
  reader.seen.set(content, times + 1);
  return createHash('sha256').update(`${content}\n${times}`).digest('hex').slice(0, 32);
}

const plainText = (text: string) => text.normalize('NFKC').replace(/\s+/g, ' ').trim().toLowerCase();
