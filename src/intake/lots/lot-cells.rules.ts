import { parseAmount } from '../../platform/words/money.ts';
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
import { countInWords, isInWords, priceInWords } from './in-words.rules.ts';
import { looseCount } from './loose-cells.rules.ts';
import { type Cells, codeKey, type FileLot, type LotReader } from './lot-reader.rules.ts';
import {
  type FileRack,
  partPlace,
  partUnknownPlace,
  rackByNumber,
  racksNamed,
  readSlots,
  slotsOf,
} from './places.rules.ts';

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
  const plain = text.replace(countedAs, '');
  const loose = looseCount(plain);
  const pieces = loose?.least ?? countInWords(plain) ?? Number(plain);
  if (!Number.isInteger(pieces) || pieces < 1 || pieces > 100_000)
    return refusedBecause(`“${text}” is not a whole number of pieces from 1 to 100,000.`);
  if (loose === null) return pieces;
  const answer = reader.questions.ask('pieces-loose', row, askOfLooseCounts, `“${text}”: ${pieces}`);
  return answer === '' ? awaitingAnswer : answer === leaveOutValue ? leftOut : pieces;
}

const askOfLooseCounts = () => ({
  text: 'Some rows say about how many pieces there are. Which number is kept?',
  hint: 'Each lot keeps one count. A stocktake settles it.',
  choices: [{ value: 'least', text: 'The number written, of a range the lower' }, leaveOutChoice],
});

export function motherOf(reader: LotReader, cells: Cells, row: number): FileLot['mother'] | NotTaken {
  const text = cells.text('mother');
  if (text === '' || text === '-') return null;
  const other = reader.rowsByCode.get(codeKey(text));
  if (other === row) return refusedBecause('A lot is not its own mother.');
  const code = readCode(text);
  const known =
    reader.known.get(codeKey(text)) ?? (code.ok ? reader.known.get(codeKey(code.code)) : undefined);
  if (other !== undefined && known?.alive !== true) return { row: other };
  return known === undefined ? motherByName(reader, text, row) : { lotId: known.id };
}

/** The one other row, else the one lot of the farm, that has this trade name; of several rows the one marked as a mother. */
function motherByName(reader: LotReader, text: string, row: number): FileLot['mother'] | NotTaken {
  const rows = (reader.rowsByName.get(codeKey(text)) ?? []).filter((one) => one !== row);
  const lots = reader.lotsByName.get(codeKey(text)) ?? [];
  const [only, second] = rows;
  if (only !== undefined && second === undefined) return { row: only };
  const [lot, another] = lots;
  if (rows.length === 0 && lot !== undefined && another === undefined) return { lotId: lot.id };
  if (rows.length === 0 && lots.length === 0)
    return refusedBecause(`No lot is called “${text}”, here or in this file.`);
  const where =
    rows.length > 0 ? `rows ${rows.slice(0, rowsNamed).join(', ')}` : lots.map(({ code }) => code).join(', ');
  return refusedBecause(`Several lots are called “${text}” (${where}). Write the code of the mother.`);
}

export function placeOf(reader: LotReader, cells: Cells, row: number): FileLot['place'] | NotTaken {
  const { racks } = reader.stock;
  const named = { rack: cells.text('rack'), slots: cells.text('slots') };
  if (named.rack === '' && named.slots === '') return null;
  const parted = named.rack === '' ? (partPlace(named.slots, racks) ?? partUnknownPlace(named.slots)) : named;
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
    proposed: only === undefined ? (rackByNumber(name, stock.racks)?.id ?? '') : '',
    choices: [
      ...stock.racks.map((rack) => ({ value: rack.id, text: `${rack.tank}: ${rack.name}` })),
      leaveOutChoice,
    ],
  }));
  if (id === '') return awaitingAnswer;
  return stock.racks.find((rack) => rack.id === id) ?? leftOut;
}

export function priceOf(reader: LotReader, cells: Cells, row: number): number | null | NotTaken {
  const text = cells.text('price');
  if (text === '' || text === '-') return null;
  const currency = currencyOf(reader, row);
  if (isNotTaken(currency)) return currency;
  if (currency.code === '') return null;
  const amount = parseAmount(text, currency.code);
  if (amount === null && !/\d/.test(text) && isInWords(text)) return priceInWords(reader, row, text);
  return (
    amount ??
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

const currencyMarks: Readonly<Record<string, string>> = { '€': 'EUR', '£': 'GBP' };

/** The one currency whose sign or code stands beside prices; '' where none or several do. A dollar may be of many lands. */
export function currencySaid(prices: readonly string[]): string {
  const said = new Set(
    prices.flatMap((text) => {
      const [mark = ''] = /[€£]|\b[A-Z]{3}\b/.exec(text) ?? [];
      return mark === '' ? [] : [currencyMarks[mark] ?? mark];
    }),
  );
  const [only = ''] = said;
  return said.size === 1 && offered.includes(only) ? only : '';
}

/** The currency that the head of the prices names in brackets; '' where it names none. */
function currencyInHead({ layout, columnOf }: LotReader): string {
  const said = layout.columns[columnOf.get('price') ?? -1]?.unit ?? '';
  return currencyMarks[said] ?? (/^[A-Z]{3}$/i.test(said) ? said.toUpperCase() : '');
}

function currencyOf(reader: LotReader, row: number): { code: string } | NotTaken {
  const { stock, questions, currencySaid: besidePrices } = reader;
  const inHead = currencyInHead(reader);
  if (stock.currency !== null && inHead !== '' && inHead !== stock.currency)
    return otherCurrency(reader, { inHead, own: stock.currency }, row);
  if (stock.currency !== null) return { code: stock.currency };
  const proposed = besidePrices || (offered.includes(inHead) ? inHead : '');
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

/** Prices in another currency than the farm's are no prices of the farm: nothing is converted. */
function otherCurrency(
  { questions }: LotReader,
  { inHead, own }: { inHead: string; own: string },
  row: number,
): { code: string } | NotTaken {
  const answer = questions.ask('currency-other', row, () => ({
    text: `The prices are headed ${inHead}, and the farm’s currency is ${own}. What are they?`,
    hint: 'Nothing is converted.',
    choices: [
      { value: 'none', text: `Prices in ${inHead}: leave them out` },
      { value: 'own', text: `Prices in ${own}, whatever the head says` },
    ],
  }));
  return answer === '' ? awaitingAnswer : { code: answer === 'none' ? '' : own };
}
