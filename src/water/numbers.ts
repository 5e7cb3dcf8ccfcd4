import { numberWords } from '../platform/words.ts';

/** A number as it stands in an input: a decimal point, no thousands mark, at most so many decimals. */
export function inputNumber(value: number | null, decimals = 3): string {
  return value === null ? '' : String(Number(value.toFixed(decimals)));
}

/** "1,840 L", "12.5 L". */
export function litres(volumeL: number): string {
  return `${numberWords(volumeL, volumeL < 100 && !Number.isInteger(volumeL) ? 1 : 0)} L`;
}
