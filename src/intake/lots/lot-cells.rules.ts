import { parseAmount } from '../../platform/words/money.ts';
import { minuteMs } from '../../science/numeric/time.ts';
import { readCode } from '../../stock/base/codes.ts';
import { type NamedKind, plainName } from '../../stock/kinds/kind-names.rules.ts';
import { checkTradeName } from '../../stock/kinds/name-check.rules.ts';
import { cellWords } from '../../stock/places/slots.ts';
import {
  awaitingAnswer,
  isNotTaken,
  leaveOutChoice,
  leaveOutValue,
  leftOut,
  type NotTaken,
  questionId,
  refusedBecause,
} from '../file/questions.rules.ts';
import type { LotColumnMeaning } from './columns.rules.ts';
import { type Cells, codeKey, type FileLot, type LotReader } from './lot-reader.rules.ts';
import { type FileRack, partPlace, racksNamed, readSlots, slotsOf } from './places.rules.ts';

/** How far ahead of the service's clock a file's clock may be; own choice. */
const clockToleranceMs = 5 * minuteMs;

export function ownCodeOf(reader: LotReader, cells: Cells, row: number): string | NotTaken {
  const code = cells.text('ownCode');
  if (code === '') return '';
  if (code.length > 40) return refusedBecause('A code has at most 40 characters.');
  const first = reader.rowsByCode.get(codeKey(code));
  if (first !== undefined && first !== row)
    return refusedBecause(`Row ${first} has this code too. Two lots need two codes.`);
  const there = reader.known.get(codeKey(code));
  if (there === undefined || !there.alive || there.ownCode === '') return code;
  return refusedBecause(
    `A lot with this code is here already (${there.code}), and this row says something else of it. Change that lot by hand, or leave the row out.`,
  );
}

/** A text as it is written. Nothing is cut off in silence. */
export function textOf(cells: Cells, meaning: LotColumnMeaning, longest: number): string | NotTaken {
  const text = cells.text(meaning);
  return text.length <= longest
    ? text
    : refusedBecause(`This is ${text.length} characters long; ${longest} can be kept. Shorten it.`);
}

/** The name in the name column, where it is not just that of the kind. */
export function tradeNameOf(cells: Cells, kind: NamedKind | null): string | NotTaken {
  const name = cells.text('name');
  const isKind = kind?.names.some((known) => plainName(known) === plainName(name)) ?? false;
  return isKind ? '' : textOf(cells, 'name', 120);
}

/** The kind that a row means. Where its name means another kind than its kind says, which one is asked. */
export function kindOf(reader: LotReader, cells: Cells, row: number): NamedKind | NotTaken {
  const kind = kindSaid(reader, cells, row);
  return isNotTaken(kind) || cells.text('kind') === '' ? kind : withoutConflict(reader, cells, kind, row);
}

function withoutConflict(
  { stock, questions }: LotReader,
  cells: Cells,
  kind: NamedKind,
  row: number,
): NamedKind | NotTaken {
  const name = cells.text('name');
  const keptAs = stock.kinds.find(({ id }) => id === kind.id);
  const conflict =
    keptAs === undefined
      ? undefined
      : checkTradeName(name, keptAs, stock.kinds).find(({ what }) => what === 'conflict');
  if (conflict === undefined) return kind;
  const named = stock.kinds.find((one) => one.name === conflict.suggestion);
  const answer = questions.ask(questionId('conflict', plainName(kind.name), plainName(name)), row, () => ({
    text: `What is “${name}”, which ${cells.head('kind')} has as ${kind.name}?`,
    hint: `${conflict.text} Its care comes from what it is kept as.`,
    choices: [
      { value: 'kind', text: `${kind.name}; “${name}” is only what it is sold as` },
      ...(named === undefined ? [] : [{ value: 'name', text: named.name }]),
      leaveOutChoice,
    ],
  }));
  if (answer === '') return awaitingAnswer;
  if (answer === leaveOutValue) return leftOut;
  return answer === 'name' && named !== undefined ? named : kind;
}

/** The kind that the row's kind, else its name, means: by the library, by an earlier answer, else asked once a name. */
function kindSaid(reader: LotReader, cells: Cells, row: number): NamedKind | NotTaken {
  const text = cells.text('kind') || cells.text('name');
  if (text === '') return refusedBecause('Neither a name nor a kind is written.');
  const { stock, finder, answers } = reader;
  const id = questionId('kind', plainName(text));
  const answer = answers[id]?.trim() ?? '';
  const exact = finder.exactly(text);
  if (exact !== null && answer === '') return exact;
  const remembered = stock.remembered[plainName(text)];
  const earlier = stock.kinds.find((kind) => kind.id === remembered);
  if (earlier !== undefined && answer === '') return earlier;
  const chosen = answer === leaveOutValue ? null : finder.exactly(answer);
  noteKindQuestion(reader, id, text, chosen === null && answer !== leaveOutValue ? '' : answer, row);
  if (answer === leaveOutValue) return leftOut;
  return chosen ?? awaitingAnswer;
}

/** A question names the first rows it concerns; own choice. */
const rowsNamed = 5;

function noteKindQuestion(reader: LotReader, id: string, name: string, answer: string, row: number): void {
  const question = reader.kindQuestions.get(id) ?? {
    id,
    name,
    suggestion: reader.finder.suggest(name),
    answer,
    rows: [],
    count: 0,
  };
  question.count += 1;
  if (question.rows.length < rowsNamed) question.rows.push(row);
  reader.kindQuestions.set(id, question);
}

/** What stands before or after a count of pieces, in six languages. */
const countedAs =
  /^x\s*|\s*(x|pcs?|pieces?|frags?|st|stk|stück|ableger|p(iè|ie)ces?|pièce|boutures?|pz|pezz[io]|piezas?|uds?|unidades|stuks?)\.?$/i;

export function piecesOf(reader: LotReader, cells: Cells, row: number): number | NotTaken {
  const text = cells.text('pieces');
  if (text === '' && cells.has('pieces')) return refusedBecause('How many pieces there are is missing.');
  if (text === '') {
    const answer = reader.questions.ask('pieces', row, () => ({
      text: 'How many pieces is each lot?',
      hint: 'No column says so.',
      choices: [{ value: 'one', text: 'One piece each' }, leaveOutChoice],
    }));
    return answer === '' ? awaitingAnswer : answer === leaveOutValue ? leftOut : 1;
  }
  const pieces = Number(text.replace(countedAs, ''));
  if (Number.isInteger(pieces) && pieces >= 1 && pieces <= 100_000) return pieces;
  return refusedBecause(`“${text}” is not a whole number of pieces from 1 to 100,000.`);
}

export function motherOf(reader: LotReader, cells: Cells, row: number): FileLot['mother'] | NotTaken {
  const text = cells.text('mother');
  if (text === '' || text === '-') return null;
  const other = reader.rowsByCode.get(codeKey(text));
  if (other === row) return refusedBecause('A lot is not its own mother.');
  const code = readCode(text);
  const known =
    reader.known.get(codeKey(text)) ?? (code.ok ? reader.known.get(codeKey(code.code)) : undefined);
  if (other !== undefined && known?.alive !== true) return { row: other };
  return known === undefined
    ? refusedBecause(`No lot is called “${text}”, here or in this file.`)
    : { lotId: known.id };
}

export function placeOf(reader: LotReader, cells: Cells, row: number): FileLot['place'] | NotTaken {
  const { racks } = reader.stock;
  const named = { rack: cells.text('rack'), slots: cells.text('slots') };
  if (named.rack === '' && named.slots === '') return null;
  const parted = named.rack === '' ? partPlace(named.slots, racks) : named;
  if (parted === null)
    return refusedBecause(`“${named.slots}” names no rack. Write rack and slots, like R3 A9-A12.`);
  if (parted.slots === '')
    return refusedBecause('The slots are missing. Write them like A9, A9-A12, or row B.');
  const rack = rackOf(reader, parted.rack, row);
  if (isNotTaken(rack)) return rack;
  const read = readSlots(parted.slots, rack);
  if ('fault' in read) return refusedBecause(read.fault);
  const slots = slotsOf(read.cells, rack);
  if ('fault' in slots) return refusedBecause(slots.fault);
  const before = slots.ids.map((id) => reader.slotsTaken.get(id)).find((other) => other !== undefined);
  if (before !== undefined)
    return refusedBecause(`Row ${before} is there too (${rack.name}, ${cellWords(read.cells)}).`);
  return { systemId: rack.systemId, slotIds: slots.ids, words: `${rack.name}, ${cellWords(read.cells)}` };
}

function rackOf({ stock, questions }: LotReader, name: string, row: number): FileRack | NotTaken {
  const [only, second] = racksNamed(name, stock.racks);
  if (only !== undefined && second === undefined) return only;
  const id = questions.ask(questionId('rack', name), row, () => ({
    text: `Which rack is “${name}”?`,
    hint: only === undefined ? 'No rack has that name.' : 'Several racks have that name.',
    choices: [
      ...stock.racks.map((rack) => ({ value: rack.id, text: `${rack.tank}: ${rack.name}` })),
      leaveOutChoice,
    ],
  }));
  if (id === '') return awaitingAnswer;
  return stock.racks.find((rack) => rack.id === id) ?? leftOut;
}

const mmOf: Readonly<Record<string, number>> = { mm: 1, cm: 10, in: 25.4, inch: 25.4, '"': 25.4, '”': 25.4 };

export function sizeOf(reader: LotReader, cells: Cells, row: number): number | null | NotTaken {
  const text = cells.text('size');
  if (text === '' || text === '-') return null;
  const [, first = '', last = '', written = ''] =
    /^([\d.,]+)(?:\s*[-–]\s*([\d.,]+))?\s*(mm|cm|in|inch|["”])?$/i.exec(text) ?? [];
  const [from, to] = [first, last || first].map((number) => Number(number.replace(',', '.')));
  if (first === '' || from === undefined || to === undefined || !Number.isFinite(from + to) || to < from)
    return refusedBecause(`“${text}” is not a size. Write it like 35 mm.`);
  // A mark before three digits may part thousands as well as decimals.
  if (/[.,]\d{3}$/.test(first) || /[.,]\d{3}$/.test(last))
    return refusedBecause(`“${text}” can be read in two ways. Write it without the mark, like 35 mm.`);
  const value = from === to ? from : rangeOf(reader, row, { from, to, text });
  if (value === null || typeof value === 'object') return value;
  const head = reader.layout.columns[reader.columnOf.get('size') ?? -1]?.unit ?? '';
  let factor = mmOf[(written || head).toLowerCase()];
  if (factor === undefined) {
    const answer = reader.questions.ask('size-unit', row, () => ({
      text: `In what are sizes like “${text}” measured?`,
      hint: 'Neither the head of the column nor the cells say so.',
      choices: [
        { value: 'mm', text: 'Millimetres' },
        { value: 'cm', text: 'Centimetres' },
        { value: 'in', text: 'Inches' },
        leaveOutChoice,
      ],
    }));
    if (answer === '') return awaitingAnswer;
    if (answer === leaveOutValue) return leftOut;
    factor = mmOf[answer] ?? 1;
  }
  const sizeMm = Math.round(value * factor);
  return sizeMm >= 1 && sizeMm <= 2000
    ? sizeMm
    : refusedBecause(`“${text}” is not a size from 1 to 2,000 mm.`);
}

/** The size of a lot whose pieces differ, as the file's owner wants it kept. */
function rangeOf(
  { questions }: LotReader,
  row: number,
  { from, to, text }: { from: number; to: number; text: string },
): number | null | NotTaken {
  const answer = questions.ask(
    'size-range',
    row,
    () => ({
      text: `A lot keeps one size. Which of “${text}”?`,
      hint: 'It says when pieces are large enough to sell.',
      choices: [
        { value: 'smaller', text: 'The smaller' },
        { value: 'middle', text: 'The middle' },
        { value: 'none', text: 'No size for these lots' },
        leaveOutChoice,
      ],
    }),
    `“${text}”`,
  );
  if (answer === '') return awaitingAnswer;
  if (answer === leaveOutValue) return leftOut;
  if (answer === 'none') return null;
  return answer === 'smaller' ? from : (from + to) / 2;
}

export function receivedOf(reader: LotReader, cells: Cells, row: number): Date | NotTaken {
  let text = cells.text('received');
  if (text === '') {
    text = reader.questions.ask('received', row, () => ({
      text: 'When did the lots come that have no day of their own?',
      hint: `Write a day, like 2026-11-24, or “${leaveOutValue}” to leave these rows out.`,
      choices: [],
    }));
    if (text === '') return awaitingAnswer;
    if (text === leaveOutValue) return leftOut;
  }
  const read = reader.readMoment(text);
  if ('fault' in read) return refusedBecause(read.fault);
  const { now } = reader.stock;
  if (read.at.getTime() <= now.getTime()) return read.at;
  // A day without a time is kept as its noon, which may be still to come today.
  if (read.at.getTime() - now.getTime() < 12 * 60 * minuteMs && !/\d:\d/.test(text)) return now;
  return read.at.getTime() <= now.getTime() + clockToleranceMs
    ? now
    : refusedBecause('It lies in the future. Check the day, the month and the year.');
}

export function priceOf(reader: LotReader, cells: Cells, row: number): number | null | NotTaken {
  const text = cells.text('price');
  if (text === '' || text === '-') return null;
  const currency = currencyOf(reader, row);
  if (isNotTaken(currency)) return currency;
  if (currency.code === '') return null;
  return (
    parseAmount(text, currency.code) ??
    refusedBecause(
      `“${text}” is not a price in ${currency.code}, or can be read in two ways. Write the amount alone, like 12.50 or 1200.`,
    )
  );
}

/** The currencies that are offered first; the others are chosen under Farm. Own choice: those of most trade. */
const offered = [
  'EUR',
  'USD',
  'GBP',
  'AUD',
  'CAD',
  'CHF',
  'JPY',
  'SGD',
  'SEK',
  'DKK',
  'NOK',
  'PLN',
  'CZK',
  'IDR',
];

/** The one currency whose sign or code stands beside prices; '' where none or several do. A dollar may be of many lands. */
export function currencySaid(prices: readonly string[]): string {
  const marks = { '€': 'EUR', '£': 'GBP' } as Record<string, string>;
  const said = new Set(
    prices.flatMap((text) => {
      const [mark = ''] = /[€£]|\b[A-Z]{3}\b/.exec(text) ?? [];
      return mark === '' ? [] : [marks[mark] ?? mark];
    }),
  );
  const [only = ''] = said;
  return said.size === 1 && offered.includes(only) ? only : '';
}

function currencyOf(
  { stock, questions, currencySaid: proposed }: LotReader,
  row: number,
): { code: string } | NotTaken {
  if (stock.currency !== null) return { code: stock.currency };
  const answer = questions.ask('currency', row, () => ({
    text: 'Which currency are the prices in?',
    hint: 'It becomes the farm’s. Others can be chosen first, under Farm, The site.',
    proposed,
    choices: [
      ...offered.map((code) => ({ value: code, text: code })),
      { value: 'none', text: 'Leave the prices out' },
    ],
  }));
  if (answer === '') return awaitingAnswer;
  return { code: answer === 'none' ? '' : answer };
}
