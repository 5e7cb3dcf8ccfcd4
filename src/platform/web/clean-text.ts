import { Refusal } from '../refusal.ts';

/** Deeper than any form or request of ours, and shallow enough for what walks through it afterwards (own choice). */
const deepest = 20;

/** What no text holds: control characters other than tab and line breaks. PostgreSQL refuses the first of them. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: these are the characters that are meant
const controlCharacters = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f]/g;

/** A text without control characters, and with a replacement mark for each half of a character whose other half is missing. */
export function cleanText(text: string): string {
  return text.toWellFormed().replace(controlCharacters, '');
}

/** The same for every text in a request, names of fields included. @throws Refusal 400 when it is nested too deeply */
export function cleanTexts(value: unknown, depth = 0): unknown {
  if (typeof value === 'string') return cleanText(value);
  if (value === null || typeof value !== 'object' || Buffer.isBuffer(value)) return value;
  if (depth >= deepest)
    throw new Refusal(`What was sent is nested more than ${deepest} deep. Send it flatter.`, { status: 400 });
  if (Array.isArray(value)) return value.map((one) => cleanTexts(one, depth + 1));
  if (!isPlain(value)) return value;
  return Object.fromEntries(
    Object.entries(value).map(([name, one]) => [cleanText(name), cleanTexts(one, depth + 1)]),
  );
}

/** Objects made by parsing (some parsers make them without the usual prototype), not dates, streams or files. */
function isPlain(value: object): boolean {
  const prototype = Object.getPrototypeOf(value) as unknown;
  return prototype === null || Object.getPrototypeOf(prototype) === null;
}
