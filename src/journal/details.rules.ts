import { dateWords, whenWords } from '../platform/words/times.ts';

/** One thing that a journal line tells: a value before and after, or one value alone. */
export interface Told {
  what: string;
  /** Null where the line says only what it is now. */
  before: string | null;
  /** Null where the line says only what it was. */
  after: string | null;
}

/** What is needed to say a value: the zone for times, and what ids are called (null: not known). */
export interface Wording {
  timeZone: string;
  now: Date;
  nameOf(id: string): string | null;
}

/** Counters and ids that the page says elsewhere or that mean nothing to a person. */
const unsaid = new Set(['id', 'version', 'accessKey', 'key', 'score']);

const uuid = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/i;
const calendarDay = /^\d{4}-\d{2}-\d{2}$/;
const moment = /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}/;

/** Words for keys that do not say themselves. */
const keyWords: Readonly<Record<string, string>> = {
  at: 'time',
  code: 'lot',
  said: 'value',
  severity: 'urgency',
  entered: 'as typed',
  from: 'from',
  tries: 'wrong tries in a row',
  isDefault: 'usual method',
  isMother: 'kept for cutting',
  litHours: 'hours of full light',
  rampHours: 'hours of ramp',
  nowAt: 'now',
  words: 'what',
  counts: 'numbers',
  passwordChanged: 'password changed',
};

const unitWords: readonly [RegExp, string][] = [
  [/Mm$/, ' (mm)'],
  [/Min$/, ' (minutes)'],
  [/LPerDay$/, ' (L a day)'],
  [/Deg$/, ' (degrees)'],
  [/L$/, ' (L)'],
  [/(Ids?|At)$/, ''],
];

/** "lengthMm" as "length (mm)", "dueAt" as "due". */
export function keyInWords(key: string): string {
  const known = keyWords[key];
  if (known !== undefined) return known;
  const [end, unit] = unitWords.find(([end]) => end.test(key)) ?? [/$^/, ''];
  const spaced = key
    .replace(end, '')
    .replaceAll('_', ' ')
    .replace(/([a-z\d])([A-Z])/g, '$1 $2')
    .toLowerCase();
  return `${spaced}${unit}`;
}

/** A value in words; null where nothing of it means anything to a person. */
function valueInWords(value: unknown, words: Wording): string | null {
  if (value === null || value === undefined || value === '') return 'none';
  if (typeof value === 'boolean') return value ? 'yes' : 'no';
  if (typeof value === 'string' && uuid.test(value)) return words.nameOf(value);
  if (typeof value === 'string' && calendarDay.test(value)) return dateWords(value, words.timeZone);
  if (typeof value === 'string' && moment.test(value)) return whenWords(value, words.timeZone, words.now);
  if (Array.isArray(value)) {
    if (value.length === 0) return 'none';
    const each = value.map((one) => valueInWords(one, words)).filter((one) => one !== null);
    return each.length === 0 ? null : each.join('; ');
  }
  if (typeof value === 'object') {
    const parts = Object.entries(value).flatMap(([key, part]) => {
      const said = unsaid.has(key) || part === null || part === '' ? null : valueInWords(part, words);
      return said === null ? [] : [`${keyInWords(key)} ${said}`];
    });
    return parts.length === 0 ? null : parts.join(', ');
  }
  return String(value);
}

const isPlain = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

const isSame = (one: unknown, other: unknown) => JSON.stringify(one) === JSON.stringify(other);

/** What differs between two states; what only one of them says did not change as far as is known, but for a new one. */
function differences(
  before: Record<string, unknown>,
  after: Record<string, unknown>,
  words: Wording,
): Told[] {
  return Object.keys(after)
    .filter((key) => !unsaid.has(key) && !isSame(before[key] ?? null, after[key] ?? null))
    .flatMap((key) => {
      const was = key in before ? valueInWords(before[key], words) : null;
      const is = valueInWords(after[key], words);
      return was === null && is === null ? [] : [{ what: keyInWords(key), before: was, after: is }];
    });
}

/** What a line tells beside its kind and its subject, in words: what changed from what to what first. */
export function tellDetail(detail: Readonly<Record<string, unknown>>, words: Wording): Told[] {
  const { before, after, ...rest } = detail;
  const changed =
    isPlain(before) && isPlain(after)
      ? differences(before, after, words)
      : before === undefined && after === undefined
        ? []
        : [
            {
              what: 'value',
              before: before === undefined ? null : valueInWords(before, words),
              after: after === undefined ? null : valueInWords(after, words),
            },
          ];
  const others = Object.entries(rest)
    .filter(([key, value]) => !unsaid.has(key) && value !== null && value !== '' && value !== false)
    .flatMap(([key, value]) => {
      const after = valueInWords(value, words);
      return after === null ? [] : [{ what: keyInWords(key), before: null, after }];
    });
  return [...changed, ...others];
}

/** Every id that a detail names, so that all can be looked up at once. */
export function idsIn(value: unknown): string[] {
  if (typeof value === 'string') return uuid.test(value) ? [value] : [];
  return typeof value === 'object' && value !== null ? Object.values(value).flatMap(idsIn) : [];
}
