import { Refusal } from '../refusal.ts';

/** Deeper than any form or request of ours, and shallow enough for what walks through it afterwards (own choice). */
const deepest = 20;

/** What no text holds: control characters other than tab and line breaks. PostgreSQL refuses the first of them. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: these are the characters that are meant
const controlCharacter = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f]/;
const controlCharacters = new RegExp(controlCharacter, 'g');

/** A text without control characters, and with a replacement mark for each half of a character whose other half is missing. */
export function cleanText(text: string): string {
  return text.toWellFormed().replace(controlCharacters, '');
}

/**
 * The same for every text in a request, names of fields included. What holds nothing to clean is given back as it is: nearly
 * all that comes does, and a pack of thousands of values is made anew for nothing.
 * @throws Refusal 400 when it is nested too deeply
 */
export const cleanTexts = (value: unknown): unknown => (isClean(value) ? value : cleaned(value));

/** @throws Refusal 400 when it is nested too deeply */
function isClean(value: unknown, depth = 0): boolean {
  if (typeof value === 'string') return value.isWellFormed() && !controlCharacter.test(value);
  if (!holdsMore(value, depth)) return true;
  if (Array.isArray(value)) return value.every((one) => isClean(one, depth + 1));
  return Object.entries(value).every(([name, one]) => isClean(name) && isClean(one, depth + 1));
}

/** @throws Refusal 400 when it is nested too deeply */
function cleaned(value: unknown, depth = 0): unknown {
  if (typeof value === 'string') return cleanText(value);
  if (!holdsMore(value, depth)) return value;
  if (Array.isArray(value)) return value.map((one) => cleaned(one, depth + 1));
  return Object.fromEntries(
    Object.entries(value).map(([name, one]) => [cleanText(name), cleaned(one, depth + 1)]),
  );
}

/** A list or an object made by parsing, not a date, a stream or a file. @throws Refusal 400 when it is nested too deeply */
function holdsMore(value: unknown, depth: number): value is object {
  if (value === null || typeof value !== 'object' || Buffer.isBuffer(value)) return false;
  if (depth >= deepest)
    throw new Refusal(`What was sent is nested more than ${deepest} deep. Send it flatter.`, { status: 400 });
  return Array.isArray(value) || isPlain(value);
}

/** Some parsers make objects without the usual prototype. */
function isPlain(value: object): boolean {
  const prototype = Object.getPrototypeOf(value) as unknown;
  return prototype === null || Object.getPrototypeOf(prototype) === null;
}
