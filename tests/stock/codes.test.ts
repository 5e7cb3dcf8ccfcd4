import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../src/science/statistics/random.ts';
import {
  CODE_ALPHABET,
  CODE_CAPACITY,
  checkDigit,
  hasValidCheckDigit,
  makeCode,
  readCode,
} from '../../src/stock/base/codes.ts';

const codes = fc.integer({ min: 0, max: 2 ** 31 }).map((seed) => makeCode(seededRandom(seed)));
const places = fc.integer({ min: 0, max: 5 });
const bare = (code: string) => code.replace('-', '');

describe('the check character is that of the published pure systems', () => {
  // ISO/IEC 7064:2003 gives 0794 -> 0 for MOD 11-2 (from memory); the second and third are the sample iDs of ORCID's own
  // documentation of its check digit, which is MOD 11-2 (10 is written X).
  test.each([
    ['0794', '0'],
    ['000000021825009', '7'],
    ['000000021694233', 'X'],
  ])('MOD 11-2 of %s is %s', (digits, check) => {
    const found = checkDigit([...digits].map(Number), 11, 2);
    expect(found === 10 ? 'X' : String(found)).toBe(check);
  });

  test('a number with its own check digit is valid, and with another is not', () => {
    expect(hasValidCheckDigit([0, 7, 9, 4, 0], 11, 2)).toBe(true);
    expect(hasValidCheckDigit([0, 7, 9, 4, 1], 11, 2)).toBe(false);
  });
});

describe('a code', () => {
  test('has two groups of three characters', () => {
    fc.assert(fc.property(codes, (code) => /^[245678FKNRTWY]{3}-[245678FKNRTWY]{3}$/.test(code)));
  });

  test('reads back as itself, in any case, with or without its hyphen', () => {
    fc.assert(
      fc.property(codes, (code) => {
        for (const typed of [
          code,
          code.toLowerCase(),
          bare(code),
          ` ${bare(code)} `,
          code.replace('-', ' – '),
        ]) {
          expect(readCode(typed)).toEqual({ ok: true, code });
        }
      }),
    );
  });

  test('with one wrong character is refused', () => {
    fc.assert(
      fc.property(codes, places, fc.constantFrom(...CODE_ALPHABET), (code, place, other) => {
        const right = bare(code);
        fc.pre(right[place] !== other);
        return !readCode(right.slice(0, place) + other + right.slice(place + 1)).ok;
      }),
    );
  });

  test('with two characters swapped, neighbours or two apart, is refused', () => {
    fc.assert(
      fc.property(codes, places, fc.constantFrom(1, 2), (code, place, apart) => {
        const swapped = [...bare(code)];
        fc.pre(place + apart < 6 && swapped[place] !== swapped[place + apart]);
        [swapped[place], swapped[place + apart]] = [swapped[place + apart] ?? '', swapped[place] ?? ''];
        return !readCode(swapped.join('')).ok;
      }),
    );
  });

  test('has more possible values than a large farm needs', () => {
    expect(CODE_CAPACITY).toBeGreaterThan(5 * 50_000);
    const random = seededRandom(7);
    const made = new Set(Array.from({ length: 2000 }, () => makeCode(random)));
    expect(made.size).toBeGreaterThan(1985);
  });
});

describe('reading what was typed', () => {
  test('look-alikes are corrected', () => {
    fc.assert(
      fc.property(codes, (code) => {
        const alike = code.replace(
          /[52867Y]/g,
          (c) => ({ 5: 's', 2: 'Z', 8: 'B', 6: 'g', 7: '1', Y: 'V' })[c] ?? c,
        );
        expect(readCode(alike)).toEqual({ ok: true, code });
      }),
    );
  });

  test.each([
    ['', 'Enter the code on the label.'],
    ['R46-T', 'A code has 6 characters; this has 4. Read the label again.'],
    ['R46-TKO', 'No code holds the character O. Read the label again.'],
  ])('%j is refused in words that say what to do', (typed, message) => {
    expect(readCode(typed)).toEqual({ ok: false, message });
  });

  test('the example of the documentation, R46-TKR, is the one code of its first five characters', () => {
    const ends = [...CODE_ALPHABET].filter((last) => readCode(`R46-TK${last}`).ok);
    expect(ends).toEqual(['R']);
  });

  test('no two characters of the alphabet are mapped onto each other', () => {
    expect(new Set(CODE_ALPHABET).size).toBe(13);
    for (const character of CODE_ALPHABET) expect('SZBGV1IOQD0L39MUCEPHJAX').not.toContain(character);
  });
});
