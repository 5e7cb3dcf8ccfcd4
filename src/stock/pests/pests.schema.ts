import { z } from 'zod';
import { optionalNumber, optionalText } from '../../platform/web/fields.ts';
import { PESTS } from './pests.rules.ts';

const codes = new Set(PESTS.map(({ code }) => code));

/** Which pest it is, by its code; '' where nobody tells. */
export const pestCode = () =>
  optionalText(40).refine((code) => code === '' || codes.has(code), 'Choose one of the pests.');

/** How many animals were counted; null where nobody counted. */
export const pestCount = () =>
  optionalNumber({ what: 'how many were counted', low: 1, high: 100_000 }).pipe(
    z.number().int('Enter a whole number.').nullable(),
  );

/** The pests, to choose from; the first is that nobody tells. */
export const pestChoices = PESTS.map(({ code, name }) => ({
  value: code === 'unnamed' ? '' : code,
  text: name,
})).sort((a, b) => Number(a.value !== '') - Number(b.value !== ''));
