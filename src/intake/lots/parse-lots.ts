import { yieldLoop } from '../../platform/yield-loop.ts';
import { kindFinder } from '../../stock/kinds/kind-names.rules.ts';
import { type FileCells, readCells } from '../file/cells.ts';
import { dateOrderOf } from '../file/date-order.ts';
import { type DateOrder, momentReader } from '../file/dates.rules.ts';
import { unusedHeads } from '../file/layout.rules.ts';
import { placesOf } from '../file/named-columns.rules.ts';
import { type Answers, type Question, questionList } from '../file/questions.rules.ts';
import { type LotLayout, lotLayout, lotLayoutFault } from './columns.rules.ts';
import { currencySaid } from './lot-cells.rules.ts';
import type { StockContext } from './lot-context.ts';
import { codeKey, type KindQuestion, type LotLine, type LotReader } from './lot-reader.rules.ts';
import { readLotRow } from './lot-rows.rules.ts';
import { shapeRows } from './row-shapes.rules.ts';

/** A file of stock as it would be taken. */
export interface ParsedLots {
  format: Pick<FileCells, 'encoding' | 'separator' | 'notices'> & { layout: LotLayout };
  rows: string[][];
  lines: LotLine[];
  questions: Question[];
  kindQuestions: KindQuestion[];
  /** The heads of columns that nothing is taken of, though they hold something. */
  unused: string[];
  /** Why the file cannot be read at all yet; null when it can. */
  fault: string | null;
}

/**
 * Reads a file of stock: every row as the lot it becomes, every fault with its row and column, every doubt as a question.
 * @throws Refusal when the file is no table
 */
export async function parseLots(
  stock: StockContext,
  content: Uint8Array,
  answers: Answers,
): Promise<ParsedLots> {
  const { encoding, separator, rows, notices } = await readCells(content, answers);
  const layout = lotLayout(rows, answers);
  const fault = lotLayoutFault(layout);
  const questions = questionList(answers);
  const kindQuestions = new Map<string, KindQuestion>();
  const lines: LotLine[] = [];
  if (fault === null) {
    const columnOf = placesOf(layout);
    const received = columnOf.get('received') ?? -1;
    const dates = received < 0 ? [] : rows.slice(layout.headRow).map((row) => row[received] ?? '');
    const order = await dateOrderOf(dates, layout.headRow + 1, stock, { answers, questions, notices });
    const shaped = shapeRows(rows, layout, questions);
    const asking = { questions, kindQuestions, columnOf };
    const reader = readerOf(stock, layout, order, answers, shaped.rows, asking);
    const breathe = yieldLoop();
    for (const [i, cells] of shaped.rows.entries()) {
      if (i < layout.headRow) continue;
      const reason = shaped.refused.get(i);
      if (reason === undefined) lines.push(...readLotRow(reader, cells, i + 1));
      else
        lines.push({ row: i + 1, column: '', text: cells[0] ?? '', state: 'refused', reason, parsed: null });
      await breathe();
    }
    refuseOrphans(lines);
    askSince(lines, stock, questions);
  }
  const format = { encoding, separator, layout, notices };
  const asked = { questions: questions.questions(), kindQuestions: [...kindQuestions.values()] };
  return { format, rows, lines, ...asked, unused: unusedHeads(layout, rows), fault };
}

function readerOf(
  stock: StockContext,
  layout: LotLayout,
  order: DateOrder,
  answers: Answers,
  rows: readonly (readonly string[])[],
  asking: Pick<LotReader, 'questions' | 'kindQuestions' | 'columnOf'>,
): LotReader {
  const rowsByCode = new Map<string, number>();
  for (const meaning of ['ownCode', 'givenCode'] as const) {
    const column = asking.columnOf.get(meaning) ?? -1;
    for (const [i, cells] of rows.entries()) {
      const key = codeKey(cells[column] ?? '');
      if (i >= layout.headRow && key !== '' && !rowsByCode.has(key)) rowsByCode.set(key, i + 1);
    }
  }
  // The living last, so that of a code that was used twice the living lot has it.
  const lots = stock.lots.toSorted((a, b) => Number(a.alive) - Number(b.alive));
  const known = new Map([
    ...lots.map((lot) => [codeKey(lot.code), lot] as const),
    ...lots.filter(({ ownCode }) => ownCode !== '').map((lot) => [codeKey(lot.ownCode), lot] as const),
  ]);
  const cameBefore = new Map(
    stock.lots.flatMap((lot) => (lot.importRow === null ? [] : [[lot.importRow, lot] as const])),
  );
  const given = new Map(stock.lots.map((lot) => [lot.code, lot] as const));
  const nameColumn = asking.columnOf.get('name') ?? -1;
  const bodyRows = rows.map((_, i) => i + 1).slice(layout.headRow);
  const rowsByName = Map.groupBy(bodyRows, (row) => codeKey(rows[row - 1]?.[nameColumn] ?? ''));
  const lotsByName = Map.groupBy(
    stock.lots.filter(({ alive, tradeName }) => alive && tradeName !== ''),
    ({ tradeName }) => codeKey(tradeName),
  );
  return {
    ...{ stock, layout, answers, ...asking, known, given, rowsByCode, rowsByName, lotsByName, cameBefore },
    currencySaid: currencySaid(priceCells(rows, asking.columnOf.get('price'))),
    finder: kindFinder(stock.kinds),
    readMoment: momentReader(stock.timeZone, order, '12:00'),
    slotsTaken: new Map(),
    seen: new Map(),
  };
}

const priceCells = (rows: readonly (readonly string[])[], column = -1) =>
  column < 0 ? [] : rows.map((row) => row[column] ?? '');

/** A row whose mother is a row that is not taken, or that is its own ancestor, is not taken either. */
function refuseOrphans(lines: LotLine[]): void {
  const taken = new Map(lines.filter((line) => line.parsed !== null).map((line) => [line.row, line]));
  const motherRow = (line: LotLine) => {
    const mother = line.parsed?.mother ?? null;
    return mother !== null && 'row' in mother ? mother.row : null;
  };
  const refuse = (line: LotLine, reason: string) => {
    Object.assign(line, { state: 'refused', reason, parsed: null, column: '' });
    taken.delete(line.row);
  };
  for (let again = true; again; ) {
    again = false;
    for (const line of [...taken.values()]) {
      const mother = motherRow(line);
      if (mother === null || taken.has(mother)) continue;
      refuse(line, `Its mother is in row ${mother}, which is not taken.`);
      again = true;
    }
  }
  for (const line of [...taken.values()]) {
    const seen = new Set([line.row]);
    for (let at = motherRow(line); at !== null; ) {
      if (seen.has(at)) {
        refuse(line, 'The rows name each other as mothers. Correct which was cut from which.');
        break;
      }
      seen.add(at);
      const next = taken.get(at);
      at = next === undefined ? null : motherRow(next);
    }
  }
}

/** Since when placed lots stand where they do is known to nobody but the farm: asked once. */
function askSince(
  lines: readonly LotLine[],
  stock: StockContext,
  questions: ReturnType<typeof questionList>,
): void {
  const placed = lines.find(
    ({ parsed }) =>
      parsed?.place != null && parsed.receivedAt.getTime() < stock.now.getTime() - 24 * 3_600_000,
  );
  if (placed === undefined) return;
  questions.ask('since', placed.row, () => ({
    text: 'Have the lots been in these slots since they were received?',
    hint: 'If so, the light there counts as what they are used to.',
    choices: [
      { value: 'received', text: 'Yes, or nearly so' },
      { value: 'now', text: 'No, or not known: count from now on' },
    ],
  }));
}
