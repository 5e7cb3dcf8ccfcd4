import { Temporal } from 'temporal-polyfill';
import { dayMs, minuteMs } from '../../science/numeric/time.ts';

/** Which of the first two numbers is the day. */
export type DateOrder = 'day-first' | 'month-first';

/** A day as written: year, month and day known, or two numbers whose order is not. */
type Day = { year: number; month: number; day: number } | { year: number; first: number; second: number };

interface DateAndTime {
  day: Day;
  /** Minutes and seconds since midnight, in seconds; null where only the day is written. */
  seconds: number | null;
  /** Offset from UTC in minutes, when the text states one. */
  offset: number | null;
}

/** The months by the beginnings of their names in English, German, French, Spanish, Italian and Dutch, without accents. */
const months = [
  ['jan', 'gen', 'ene'],
  ['feb', 'fev'],
  ['mar', 'mrz', 'mrt', 'maart'],
  ['apr', 'avr', 'abr'],
  ['may', 'mai', 'mei', 'mag'],
  ['jun', 'juin', 'giu'],
  ['jul', 'juil', 'lug'],
  ['aug', 'aou', 'ago'],
  ['sep', 'set'],
  ['oct', 'okt', 'ott'],
  ['nov'],
  ['dec', 'dez', 'dic'],
];
/** "8:30", "8.30", "18h30", "18 Uhr", "6 pm", with seconds and an offset where they are written. */
const clock = String.raw`(?:[T ,]+(\d{1,2})(?:\s?[:.h]\s?(\d{2})|\s?(?=h|uhr|[ap]\.?m))(?::(\d{2})(?:[.,]\d+)?)?\s*(?:h|uhr)?\s*([ap]\.?m\.?)?\s*(Z|[+-]\d{2}:?\d{2})?)?`;
const yearFirst = new RegExp(`^(\\d{4})[-/.](\\d{1,2})[-/.](\\d{1,2})${clock}$`, 'i');
const yearLast = new RegExp(`^(\\d{1,2})[-/.](\\d{1,2})[-/.](\\d{4}|\\d{2})${clock}$`, 'i');
const dayMonth = new RegExp(
  `^(\\d{1,2})[ .-]+(?:de )?(\\p{L}{3,10})\\.?(?: de|[ ,-])+ ?(\\d{4}|\\d{2})${clock}$`,
  'iu',
);
const monthDay = new RegExp(`^(\\p{L}{3,10})\\.? (\\d{1,2}),? (\\d{4})${clock}$`, 'iu');

/** A weekday before the day, in six languages: "Mon 5 Oct 2026", "Mo, 05.10.2026". */
const weekday =
  /^(?:mo|di|mi|do|fr|sa|so|ma|wo|vr|za|zo|(?:mon|tue|wed|thu|fri|sat|sun|die|mit|don|sam|son|lun|mar|mer|mié|mie|jeu|jue|gio|ven|vie|sáb|sab|dim|dom|maa|din|woe|vri|zat|zon)\p{L}*)\.?,? (?=\d)/iu;

/** What a text says of day and time; null when it says neither. */
export function parseDateAndTime(text: string): DateAndTime | null {
  const plain = text.trim().replace(/\s+/g, ' ');
  return dateAndTimeOf(plain) ?? (weekday.test(plain) ? dateAndTimeOf(plain.replace(weekday, '')) : null);
}

function dateAndTimeOf(plain: string): DateAndTime | null {
  const shapes: [RegExp, (parts: string[]) => Day | null][] = [
    [yearFirst, ([y = '', m = '', d = '']) => ({ year: Number(y), month: Number(m), day: Number(d) })],
    [yearLast, ([a = '', b = '', y = '']) => ({ year: fullYear(y), first: Number(a), second: Number(b) })],
    [dayMonth, ([d = '', m = '', y = '']) => namedMonth(y, m, d)],
    [monthDay, ([m = '', d = '', y = '']) => namedMonth(y, m, d)],
  ];
  for (const [shape, dayOf] of shapes) {
    const found = shape.exec(plain);
    if (found === null) continue;
    const day = dayOf(found.slice(1, 4));
    const seconds = secondsOf(found.slice(4, 8));
    if (day === null || seconds === undefined) return null;
    return { day, seconds, offset: offsetOf(found[8]) };
  }
  return null;
}

/** The month that a word names in six languages, 1 to 12; 0 where it names none. */
export function monthNamed(name: string): number {
  const plain = name.normalize('NFD').replace(/\p{M}/gu, '').toLowerCase();
  return months.findIndex((beginnings) => beginnings.some((one) => plain.startsWith(one))) + 1;
}

function namedMonth(year: string, name: string, day: string): Day | null {
  const month = monthNamed(name);
  return month === 0 ? null : { year: fullYear(year), month, day: Number(day) };
}

const fullYear = (text: string) => (text.length === 2 ? 2000 + Number(text) : Number(text));

/** Seconds since midnight; null without a time, undefined for one that no clock shows. */
function secondsOf([hour, minute, second, half]: (string | undefined)[]): number | null | undefined {
  if (hour === undefined) return null;
  const [h, m, s] = [Number(hour), Number(minute ?? 0), Number(second ?? 0)];
  if (m > 59 || s > 59 || h > 23 || (half !== undefined && (h < 1 || h > 12))) return undefined;
  const hours = half === undefined ? h : (h % 12) + (half.toLowerCase().startsWith('p') ? 12 : 0);
  return hours * 3600 + m * 60 + s;
}

function offsetOf(text: string | undefined): number | null {
  if (text === undefined) return null;
  if (text.toUpperCase() === 'Z') return 0;
  const [, sign, hours, minutes] = /^([+-])(\d{2}):?(\d{2})$/.exec(text) ?? [];
  return (sign === '-' ? -1 : 1) * (Number(hours) * 60 + Number(minutes));
}

/** What a file's own dates say about their order. */
export interface OrderEvidence {
  /** The order that fits, when only one does; null when both do, or neither. */
  order: DateOrder | null;
  /** True when no date leaves the order open. */
  settled: boolean;
  /** What says so, for a person. */
  why: string;
}

/** Watches all dates of a file for their order: numbers beyond 12, and days that have not come yet. */
export function dateOrderDetector(today: string) {
  const seen = { open: 0, dayFirst: '', monthFirst: '', futureDayFirst: '', futureMonthFirst: '' };
  return {
    add(text: string): void {
      const day = parseDateAndTime(text)?.day;
      if (day === undefined || !('first' in day)) return;
      const [dayFirst, monthFirst] = [calendarDay(day, 'day-first'), calendarDay(day, 'month-first')];
      // What is not a day of the calendar either way is refused either way, so it says nothing of the order.
      if (dayFirst === null && monthFirst === null) return;
      seen.open += 1;
      if (monthFirst === null) seen.dayFirst ||= text;
      else if (dayFirst === null) seen.monthFirst ||= text;
      else if (day.first !== day.second) {
        if (dayFirst > today) seen.futureDayFirst ||= text;
        if (monthFirst > today) seen.futureMonthFirst ||= text;
      }
    },
    evidence: (): OrderEvidence => judgeOrder(seen),
  };
}

function judgeOrder(
  seen: Record<'dayFirst' | 'monthFirst' | 'futureDayFirst' | 'futureMonthFirst', string> & { open: number },
): OrderEvidence {
  if (seen.open === 0) return { order: null, settled: true, why: 'the dates state their order themselves' };
  if (seen.dayFirst !== '' && seen.monthFirst !== '') {
    return {
      order: null,
      settled: false,
      why: `“${seen.dayFirst}” only fits day first, “${seen.monthFirst}” only month first: the file mixes both`,
    };
  }
  if (seen.dayFirst !== '')
    return { order: 'day-first', settled: true, why: `“${seen.dayFirst}” only fits day first` };
  if (seen.monthFirst !== '')
    return { order: 'month-first', settled: true, why: `“${seen.monthFirst}” only fits month first` };
  if ((seen.futureDayFirst === '') !== (seen.futureMonthFirst === '')) {
    const order = seen.futureDayFirst === '' ? 'day-first' : 'month-first';
    const late = seen.futureDayFirst || seen.futureMonthFirst;
    return { order, settled: true, why: `read the other way, “${late}” would be in the future` };
  }
  return { order: null, settled: false, why: 'every date fits both ways' };
}

const isoDay = (year: number, month: number, day: number) =>
  `${String(year).padStart(4, '0')}-${String(month).padStart(2, '0')}-${String(day).padStart(2, '0')}`;

/** A time that the clocks of a place showed twice on one night, or never: both moments that it can mean, with their offsets. */
export interface ClockDoubt {
  kind: 'twice' | 'never';
  /** "2026-10-25". */
  day: string;
  earlier: { at: Date; offset: string };
  later: { at: Date; offset: string };
}

/** A moment read from a file, or why there is none; with `doubt` where somebody can say which is meant. */
export type FileMoment = { at: Date } | { fault: string; doubt?: ClockDoubt };

/** Day, seconds since midnight and offset (minutes) as they are written; null where the text is no day of the calendar. */
interface WrittenMoment {
  day: string;
  seconds: number;
  offset: number | null;
}

/** Reads moments; `written` says what the text says, whatever the clocks did that night. */
export type MomentReader = ((text: string) => FileMoment) & {
  written(text: string): WrittenMoment | null;
};

const earliest = '1990-01-01';

/**
 * Reads moments of one file: in the site's zone unless the text states an offset. `noon` is the time of day for rows
 * that carry only a day ("12:00").
 */
export function momentReader(timeZone: string, order: DateOrder, noon: string): MomentReader {
  const starts = new Map<string, { start: number; even: boolean }>();
  const usual = parseDateAndTime(`2000-01-01 ${noon}`)?.seconds ?? 43_200;
  const startOf = (day: string) => {
    const known = starts.get(day);
    if (known !== undefined) return known;
    const date = Temporal.PlainDate.from(day);
    const start = date.toZonedDateTime(timeZone).epochMilliseconds;
    const next = date.add({ days: 1 }).toZonedDateTime(timeZone).epochMilliseconds;
    const made = { start, even: next - start === dayMs };
    starts.set(day, made);
    return made;
  };
  const local = (day: string, seconds: number, text: string): FileMoment => {
    const { start, even } = startOf(day);
    if (even) return { at: new Date(start + seconds * 1000) };
    const written = Temporal.PlainDateTime.from(day).add({ seconds });
    const [earlier, later] = (['earlier', 'later'] as const).map((disambiguation) =>
      written.toZonedDateTime(timeZone, { disambiguation }),
    );
    if (earlier === undefined || later === undefined || earlier.equals(later))
      return { at: new Date(written.toZonedDateTime(timeZone).epochMilliseconds) };
    // In the missing hour both readings of the text show another time than was written.
    const kind = earlier.toPlainDateTime().equals(written) ? 'twice' : 'never';
    const side = (at: number, { offset }: { offset: string }) => ({
      at: new Date(at),
      offset: `UTC${offset}`,
    });
    // A missing time that is read by the clock before the change lies after it, and the other way round.
    const [ofEarlier, ofLater] = kind === 'twice' ? [earlier, later] : [later, earlier];
    const doubt: ClockDoubt = {
      kind,
      day,
      earlier: side(earlier.epochMilliseconds, ofEarlier),
      later: side(later.epochMilliseconds, ofLater),
    };
    return kind === 'twice'
      ? {
          doubt,
          fault: `“${text}” came twice that night: the clocks went back. Write which one, as ${written.toString({ smallestUnit: 'minute' })}${earlier.offset} or ${later.offset}.`,
        }
      : {
          doubt,
          fault: `“${text}” never came: the clocks went forward over it. Correct the time, or write its offset, like ${written.toString({ smallestUnit: 'minute' })}${earlier.offset}.`,
        };
  };
  const read = (text: string): FileMoment => {
    const stamp = parseDateAndTime(text);
    if (stamp === null) return { fault: `“${text}” is not a day and time. Write it like 2026-11-24 07:30.` };
    const day = calendarDay(stamp.day, order);
    if (day === null)
      return { fault: `“${text}” is not a day of the calendar${orderWords(stamp.day, order)}.` };
    if (day < earliest) return { fault: `“${text}” lies before 1990. Check the year.` };
    const seconds = stamp.seconds ?? usual;
    if (stamp.offset === null) return local(day, seconds, text);
    return { at: new Date(Date.parse(`${day}T00:00:00Z`) + seconds * 1000 - stamp.offset * minuteMs) };
  };
  const written = (text: string): WrittenMoment | null => {
    const stamp = parseDateAndTime(text);
    const day = stamp === null ? null : calendarDay(stamp.day, order);
    return stamp === null || day === null
      ? null
      : { day, seconds: stamp.seconds ?? usual, offset: stamp.offset };
  };
  return Object.assign(read, { written });
}

function calendarDay(day: Day, order: DateOrder): string | null {
  const [month, dayOfMonth] =
    'month' in day
      ? [day.month, day.day]
      : order === 'day-first'
        ? [day.second, day.first]
        : [day.first, day.second];
  const iso = isoDay(day.year, month, dayOfMonth);
  const at = new Date(`${iso}T00:00:00Z`);
  return Number.isNaN(at.getTime()) || at.toISOString().slice(0, 10) !== iso ? null : iso;
}

function orderWords(day: Day, order: DateOrder): string {
  return 'first' in day ? ` read ${order === 'day-first' ? 'day first' : 'month first'}` : '';
}
