import { cleanText } from '../../platform/web/clean-text.ts';
import { yieldLoop } from '../../platform/yield-loop.ts';
import type { Answers } from './questions.rules.ts';
import { guessSeparator, readTable, type Separator, separatorNamed } from './table.ts';
import {
  decode,
  type Encoding,
  encodingNames,
  encodings,
  encodingWarning,
  guessEncoding,
  lineEndWords,
} from './text.rules.ts';

/** A file as rows of cells, with how it was read. */
export interface FileCells {
  encoding: Encoding;
  separator: Separator;
  rows: string[][];
  /** What there is to say of the whole file, a sentence each. */
  notices: string[];
}

/** The cells of a file: its encoding and separator as answered, else as found. @throws Refusal when it is no table */
export async function readCells(content: Uint8Array, answers: Answers): Promise<FileCells> {
  const breathe = yieldLoop();
  const { encoding, text, notices } = decodeFile(content, answers);
  await breathe();
  const separator = separatorNamed(answers.separator) ?? guessSeparator(text);
  await breathe();
  const { rows, unwrapped } = await readTable(text, separator);
  if (unwrapped > 0) notices.push(`${unwrapped} cells were in quotes twice; the inner quotes are taken off.`);
  return { encoding, separator, rows, notices };
}

function decodeFile(content: Uint8Array, answers: Answers) {
  const guess = guessEncoding(content);
  const chosen = encodings.find((one) => one === answers.encoding);
  const encoding = chosen ?? guess.encoding;
  const decoded = decode(content, encoding);
  const text = cleanText(decoded);
  const how =
    chosen === undefined
      ? `taken as ${encodingNames[encoding]}: ${guess.why}`
      : `read as ${encodingNames[encoding]}, as chosen`;
  const notices = [`The file is ${how}; ${lineEndWords(text)}.`];
  if (text !== decoded) notices.push('Control characters, which no text holds, are taken out.');
  const doubt = encodingWarning(text);
  if (doubt !== null) notices.push(doubt);
  return { encoding, text, notices };
}
