import type { Control } from './form-controls.ts';

/** A tick that insists on an odd figure is asked for anew with every refusal: it belongs to the figure that was asked about. */
const insists = /^(sure|.*-sure|hereAlone)$/;
export const isTyped = ({ name, kind }: Control) =>
  kind !== 'hidden' && kind !== 'secret' && kind !== 'file' && !insists.test(name);

/** What somebody types into a control: something that is not there yet, and that the page could take. */
export function typedInto({ kind, type, values, options }: Control, nth: number): string[] {
  const [value = ''] = values;
  if (kind === 'lines') return [`${value}Line one of ${nth}\n  "two" <b>&amp; more`];
  if (kind === 'list') return [options.filter((one) => !values.includes(one)).at(nth % 2 ? 0 : -1) ?? value];
  if (kind === 'one') return [options.find((one) => !values.includes(one)) ?? value];
  if (kind === 'some') return values.length > 0 ? values.slice(1) : options.slice(0, 1);
  if (type === 'date') return ['2026-11-23'];
  if (type === 'datetime-local') return [`2026-11-23T1${nth % 10}:30`];
  if (type === 'time') return [`0${nth % 10}:15`];
  if (type === 'email') return [`typed${nth}@example.org`];
  return [
    /^-?[\d.]+$/.test(value) ? `${value}${nth % 10}` : value === '' ? `${nth + 1}` : `${value} "${nth}"`,
  ];
}
