import type { Random } from '../../science/statistics/random.ts';

/**
 * The characters of a lot's code. Characters that look alike (0 O D Q, 1 I L 7, 2 Z, 5 S, 6 G 9, 8 B 3, M W, U V Y) or
 * sound alike in a noisy room (B C D E G P T V Z 3, A H J K 8, F L M N S X, Q U 2, I Y 5 9) are left out until none can be
 * taken for another. Thirteen are left; a prime number, as the check character needs.
 */
export const CODE_ALPHABET = '245678FKNRTWY';

const GROUP = 3;
const LENGTH = 2 * GROUP;
/** Characters that people write or read for one of the alphabet, and for no other. */
const LOOK_ALIKES: Readonly<Record<string, string>> = {
  S: '5',
  Z: '2',
  B: '8',
  G: '6',
  V: 'Y',
  1: '7',
  I: '7',
};
const SEPARATORS = /[\s.,_\-\u2010-\u2015\u2212]/gu;

export type ReadCode = { ok: true; code: string } | { ok: false; message: string };

/** Letters in the words of the ICAO spelling alphabet, digits as numbers. */
const SPOKEN: Readonly<Record<string, string>> = {
  2: 'two',
  4: 'four',
  5: 'five',
  6: 'six',
  7: 'seven',
  8: 'eight',
  F: 'Foxtrot',
  K: 'Kilo',
  N: 'November',
  R: 'Romeo',
  T: 'Tango',
  W: 'Whiskey',
  Y: 'Yankee',
};
const CHARACTER_OF_WORD: ReadonlyMap<string, string> = new Map(
  Object.entries(SPOKEN).map(([character, word]) => [word.toUpperCase(), character]),
);

/** A code as it is read aloud: "Romeo four six, Tango Kilo Romeo". */
export function spokenCode(code: string): string {
  return code
    .split('-')
    .map((group) => [...group].map((character) => SPOKEN[character] ?? character).join(' '))
    .join(', ');
}

/** Replaces the words of the spelling alphabet, as dictation software writes them, by their characters. */
function joinSpokenWords(text: string): string {
  return text.replace(/\p{L}+/gu, (word) => CHARACTER_OF_WORD.get(word) ?? word);
}

/** What a lot is called: by the farm's own code where it has one, else by its short code. */
export const calledBy = ({ code, ownCode }: { code: string; ownCode: string }): string =>
  ownCode === '' ? code : ownCode;

/** How many codes there are. */
export const CODE_CAPACITY = CODE_ALPHABET.length ** (LENGTH - 1);

/** A new code, such as R46-TKR: five random characters and a check character. The caller makes sure that it is unique. */
export function makeCode(random: Random): string {
  const digits = Array.from({ length: LENGTH - 1 }, () => random.below(CODE_ALPHABET.length));
  return formatCode([...digits, checkDigit(digits, CODE_ALPHABET.length, 2)]);
}

/**
 * Reads a code as people type or dictate it: in upper or lower case, with or without its hyphen, spelt out or not.
 * Look-alikes are corrected. A code with one wrong character, or with two neighbours swapped, is always refused.
 */
export function readCode(text: string): ReadCode {
  const typed = [...joinSpokenWords(text.normalize('NFKC').toUpperCase()).replace(SEPARATORS, '')];
  if (typed.length !== LENGTH) return refuse(lengthMessage(typed.length));
  const characters = typed.map((character) => LOOK_ALIKES[character] ?? character);
  const unknown = characters.find((character) => !CODE_ALPHABET.includes(character));
  if (unknown !== undefined) return refuse(`No code holds the character ${unknown}. Read the label again.`);
  const digits = characters.map((character) => CODE_ALPHABET.indexOf(character));
  if (!hasValidCheckDigit(digits, CODE_ALPHABET.length, 2)) {
    return refuse('No lot has this code: a character is wrong or two are swapped. Read the label again.');
  }
  return { ok: true, code: formatCode(digits) };
}

/**
 * The check digit of a pure system of ISO/IEC 7064 (such as its MOD 11-2 and MOD 37-2): the digit that makes the sum
 * of digits times powers of the radix leave 1. With a prime modulus it detects every single wrong digit and every swap of
 * neighbours.
 */
export function checkDigit(digits: readonly number[], modulus: number, radix: number): number {
  const sum = digits.reduce((product, digit) => ((product + digit) * radix) % modulus, 0);
  return (1 - sum + modulus) % modulus;
}

/** True when the last digit is the check digit of those before it. */
export function hasValidCheckDigit(digits: readonly number[], modulus: number, radix: number): boolean {
  return checkDigit(digits.slice(0, -1), modulus, radix) === digits.at(-1);
}

function formatCode(digits: readonly number[]): string {
  const text = digits.map((digit) => CODE_ALPHABET[digit]).join('');
  return `${text.slice(0, GROUP)}-${text.slice(GROUP)}`;
}

function lengthMessage(length: number): string {
  return length === 0
    ? 'Enter the code on the label.'
    : `A code has ${LENGTH} characters; this has ${length}. Read the label again.`;
}

function refuse(message: string): ReadCode {
  return { ok: false, message };
}
