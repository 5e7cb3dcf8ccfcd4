import type { Control, PostedForm } from './form-controls.ts';

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

/** What a person types where a plausible figure is not enough. */
const fillings: readonly [RegExp, Record<string, string>][] = [
  [/\/farm\/site$/, { name: 'Saltgate Yard', digestAt: '06:45', currency: 'EUR' }],
  [/\/farm\/racks\/[^/]+$/, { note: 'Wiped' }],
  [/\/farm\/systems\/[^/]+$/, { note: 'Sump cleaned' }],
  [/\/tanks\/[^/]+\/racks$/, { name: 'New rack', rows: '2', columns: '3', depthMm: '20' }],
  [/\/tanks\/[^/]+\/lamps$/, { name: 'Spot', percent: '50', litHours: '8', rampHours: '1' }],
  [/\/systems\/[^/]+\/tanks$/, { name: 'Tank 9', lengthMm: '100', widthMm: '50', heightMm: '40' }],
  [/\/farm\/equipment$/, { kind: 'heater', name: 'Heater' }],
  [/\/upkeep$/, { work: 'service', note: 'Impeller' }],
  [/\/routines$/, { work: 'test', quantityCode: 'alkalinity', everyDays: '3', startsOn: '2026-11-24' }],
  [/\/rounds\/plans$/, { name: 'Evening', startsAt: '18:00', weekdays: '1', steps: 'feed' }],
  [/\/targets$/, { 'alkalinity-low': '7', 'alkalinity-high': '9' }],
  [/\/events$/, { kind: 'power_cut' }],
  [/\/switched-off$/, { pick: 'thing:heating' }],
  [/\/never$/, { what: 'doses' }],
  [/\/flow$/, { picked: 'A1', stretchValue: 'low' }],
  [/\/base$/, { picked: 'A1', stretchValue: 'rock' }],
  [/\/details$/, { note: 'Came with a crab', sizeMm: '41' }],
  [/\/readings$/, { alkalinity: '8.1' }],
  [/\/conditions$/, { state: 'paling', grade: '1', at: '2026-11-24T07:00' }],
  [/\/doses$/, { substance: 'Soda', amount: '20', unit: 'g', at: '2026-11-24T07:00' }],
  [/\/water-changes$/, { amount: '50', unit: 'L', at: '2026-11-24T07:00' }],
  [/\/feedings$/, { food: 'Rotifers', amountG: '5', pumpsOffMin: '20', at: '2026-11-24T07:00' }],
  [/\/holds$/, { pieces: '1', buyer: 'A reef club', until: '2026-12-01' }],
];

/** Forms of one kind: ids and names taken out of their address and fields. */
export const kindOf = ({ action, controls }: PostedForm) =>
  `${action
    .replace(/[0-9a-f]{8}-[0-9a-f-]{27}/g, ':id')
    .replace(/\/kinds\/[^/]+/, '/kinds/:name')
    .replace(/\/care\/[^/]+/, '/care/:name')
    .replace(/\?.*/, '')} ${controls
    .map(({ name }) => name.replace(/[0-9a-f]{8}-[0-9a-f-]{27}/g, ':id'))
    .sort()
    .slice(0, 4)}`;

/** Forms by kind, those that report trouble last: while it is open in a water, forms of that water ask why. */
export const troubleLast = <T>(forms: ReadonlyMap<string, T>): [string, T][] =>
  [...forms].sort(([a], [b]) => Number(a.startsWith('/emergencies')) - Number(b.startsWith('/emergencies')));

/** A form filled in as somebody would. */
export function filled(form: PostedForm): Record<string, string[]> {
  const own = fillings.find(([action]) => action.test(form.action))?.[1];
  const others = Object.fromEntries(
    form.controls.map((one, n) => [
      one.name,
      own === undefined && isTyped(one) ? typedInto(one, n) : one.values,
    ]),
  );
  return {
    ...others,
    ...Object.fromEntries(Object.entries(own ?? {}).map(([name, value]) => [name, [value]])),
  };
}
