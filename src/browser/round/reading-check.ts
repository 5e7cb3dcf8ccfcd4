/** What a number in a form is measured by: the range that is usual and the band that is kept, in the chosen unit. */
interface Ranges {
  low: number | null;
  high: number | null;
  keptLow: number | null;
  keptHigh: number | null;
}

const end = (text: string | undefined) => (text === undefined || text === '' ? null : Number(text));

function rangesOf(form: HTMLFormElement): Ranges {
  const unit = form.querySelector<HTMLElement>('select[name="unit"] option:checked, input[name="unit"]');
  const { low, high, keptLow, keptHigh } = unit?.dataset ?? {};
  return { low: end(low), high: end(high), keptLow: end(keptLow), keptHigh: end(keptHigh) };
}

/** A plain number as it was typed, "8,4" too; null of anything else, which the service reads. */
export function plainNumber(text: string): number | null {
  const plain = text.trim().replace('<', '').replace(',', '.').trim();
  return /^[+-]?\d+(\.\d+)?$/.test(plain) ? Number(plain) : null;
}

/** Whether a number lies outside a range whose ends may be open. */
export const isOutside = (value: number, low: number | null, high: number | null) =>
  (low !== null && value < low) || (high !== null && value > high);

/**
 * Asks, of a reading that is not usual, whether it is meant, with what this page knows; true when it may be noted. The
 * service asks again with all it knows.
 */
export function confirmReading(form: HTMLFormElement): boolean {
  const doubt = form.querySelector<HTMLElement>('[data-doubt]');
  const value = plainNumber(new FormData(form).get('text')?.toString() ?? '');
  const sure = form.querySelector<HTMLInputElement>('[name="sure"]');
  if (doubt === null || sure === null || value === null || sure.checked) return true;
  const { low, high } = rangesOf(form);
  if (!isOutside(value, low, high)) return true;
  doubt.hidden = false;
  const words = doubt.querySelector('[data-doubt-words]');
  if (words !== null)
    words.textContent = `${form.dataset.usual} is usual. Check the decimal point and the unit.`;
  sure.focus();
  return false;
}

/** Whether a noted reading lies outside the band that this page knows. */
export function isOutsideBand(form: HTMLFormElement, text: string): boolean {
  const value = plainNumber(text);
  const { keptLow, keptHigh } = rangesOf(form);
  return value !== null && !text.includes('<') && isOutside(value, keptLow, keptHigh);
}
