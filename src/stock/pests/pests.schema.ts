import { optionalText } from '../../platform/web/fields.ts';
import { PESTS } from './pests.rules.ts';

const codes = new Set(PESTS.map(({ code }) => code));

/** Which pest it is, by its code; '' where nobody tells. */
export const pestCode = () =>
  optionalText(40).refine((code) => code === '' || codes.has(code), 'Choose one of the pests.');

/** The pests, to choose from; the first is that nobody tells. */
export const pestChoices = PESTS.map(({ code, name }) => ({
  value: code === 'unnamed' ? '' : code,
  text: name,
})).sort((a, b) => Number(a.value !== '') - Number(b.value !== ''));
