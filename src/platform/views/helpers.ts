import Handlebars, { type HelperOptions } from 'handlebars';
import { uuidv7 } from 'uuidv7';
import { type Figure, figureParts } from '../words/figures.ts';
import { numberWords, plural } from '../words/numbers.ts';
import {
  agoWords,
  dateWords,
  dayWords,
  type Moment,
  machineTime,
  timeWords,
  whenWords,
} from '../words/times.ts';
import type { FieldError, PageData } from './page.ts';

/** What a helper knows besides its arguments. */
interface Around {
  page: PageData;
  /** True in plain text, where there is no markup. */
  plain: boolean;
}

/** One helper: how many arguments it takes (least, most) and what it makes of them. */
export interface Helper {
  takes: readonly [number, number];
  run: (args: readonly unknown[], around: Around) => unknown;
}

type TimeWords = (at: Moment, timeZone: string, now: Moment) => string;

const { SafeString, escapeExpression } = Handlebars;
const ANY = Number.POSITIVE_INFINITY;
const UNSAFE_IN_SCRIPT = /[<>&\u2028\u2029]/g;

/**
 * The helpers of every view. `asset` is added by the loader, which knows the files.
 * Arguments that may be missing are those of `eq`, `not`, `and`, `or`, `orEmpty`, `figured`, `sayFigure` and `errorFor`; any other
 * helper refuses a missing argument by name.
 */
export const helpers: Readonly<Record<string, Helper>> = {
  /** A number equals the text a form sends for it. */
  eq: {
    takes: [2, 2],
    run: ([a, b]) => a === b || (isWritten(a) && isWritten(b) && String(a) === String(b)),
  },
  /** `not`, `and` and `or` hold for empty what `if` holds for empty: 0 too. */
  not: { takes: [1, 1], run: ([a]) => isEmpty(a) },
  and: { takes: [2, ANY], run: (args) => (args.some(isEmpty) ? args.find(isEmpty) : args.at(-1)) },
  or: { takes: [2, ANY], run: (args) => args.find((a) => !isEmpty(a)) ?? args.at(-1) },
  /** The value as it is, or nothing where it is missing; 0 stays 0. */
  orEmpty: { takes: [1, 1], run: ([a]) => a ?? '' },
  /** A key of its own for a form that its handler gave none. */
  newKey: { takes: [0, 0], run: () => uuidv7() },
  concat: { takes: [2, ANY], run: (args) => args.map((a, i) => given(a, 'concat', i)).join('') },
  json: { takes: [1, 1], run: ([a]) => new SafeString(scriptSafe(given(a, 'json', 0))) },
  svg: { takes: [1, 1], run: ([a]) => new SafeString(picture(a)) },
  plural: { takes: [3, 3], run: ([n, one, many]) => plural(count(n), words(one, 1), words(many, 2)) },
  number: {
    takes: [1, 2],
    run: ([n, decimals]) => numberWords(figure(n), decimals === undefined ? undefined : figure(decimals)),
  },
  /** A text with the figures that it says marked, so that a program reads what it says of what: `<data data-figure>`. */
  figured: {
    takes: [2, 2],
    run: ([text, figures], { plain }) => marked(String(text ?? ''), (figures ?? []) as Figure[], plain),
  },
  /** One figure, marked: `sayFigure "system.pieces" system.id 282 "282 pieces"`; its text alone in plain text. */
  sayFigure: {
    takes: [4, 4],
    run: ([name, of, value, text], { plain }) =>
      said(
        {
          name: String(name),
          of: String(of ?? ''),
          value: isEmpty(value) ? 0 : (value as number | string),
          text: String(text),
        },
        plain,
      ),
  },
  /** The message for a field out of a list of `{field, message}`, if there is one. */
  errorFor: { takes: [2, 2], run: ([errors, name]) => errorFor(errors, name) },
  date: { takes: [1, 1], run: timed('date', dateWords) },
  day: { takes: [1, 1], run: timed('day', dayWords) },
  time: { takes: [1, 1], run: timed('time', timeWords) },
  when: { takes: [1, 1], run: timed('when', whenWords) },
  ago: { takes: [1, 1], run: timed('ago', agoWords) },
};

function marked(text: string, figures: readonly Figure[], plain: boolean): unknown {
  if (plain) return text;
  const parts = figureParts(text, figures).map(({ text: words, figure }) =>
    figure === null ? escapeExpression(words) : markup(figure),
  );
  return new SafeString(parts.join(''));
}

const said = (figure: Figure, plain: boolean): unknown =>
  plain ? figure.text : new SafeString(markup(figure));

function markup({ name, of, value, text }: Figure): string {
  const [valueText, nameText, ofText] = [String(value), name, of].map((one) => escapeExpression(one));
  return `<data value="${valueText}" data-figure="${nameText}" data-of="${ofText}">${escapeExpression(text)}</data>`;
}

/** The helper as Handlebars calls it: arguments counted, errors named. */
export function asHandlebars(name: string, helper: Helper): Handlebars.HelperDelegate {
  return (...received: unknown[]) => {
    const options = received.pop() as HelperOptions;
    const [least, most] = helper.takes;
    if (received.length < least || received.length > most)
      throw new Error(countMessage(name, helper, received.length));
    return helper.run(received, { page: options.data.root.page, plain: options.data.plain === true });
  };
}

/** "plural takes 3 arguments, here are 2". */
export function countMessage(name: string, { takes: [least, most] }: Helper, received: number): string {
  const wanted = least === most ? `${least}` : `${most === ANY ? `${least} or more` : `${least} to ${most}`}`;
  return `${name} takes ${wanted} argument${wanted === '1' ? '' : 's'}, here are ${received}`;
}

function timed(name: string, say: TimeWords): Helper['run'] {
  return ([value], { page, plain }) => {
    const at = given(value, name, 0) as Moment;
    if (!page) throw new Error(`${name} needs page.timeZone and page.now, and there is no page`);
    const said = say(at, page.timeZone, page.now);
    if (plain) return said;
    return new SafeString(`<time datetime="${machineTime(at)}">${escapeExpression(said)}</time>`);
  };
}

function given(value: unknown, helper: string, index: number): unknown {
  if (value !== undefined && value !== null) return value;
  throw new Error(`${helper} got ${value} as its ${['first', 'second', 'third'][index] ?? 'next'} argument`);
}

function isEmpty(value: unknown): boolean {
  return value === 0 || Handlebars.Utils.isEmpty(value);
}

function isWritten(value: unknown): boolean {
  return typeof value === 'string' || typeof value === 'number';
}

function count(value: unknown): number {
  if (Number.isInteger(value)) return value as number;
  throw new Error(`plural needs a whole number first, not ${String(value)}`);
}

function words(value: unknown, index: number): string {
  return String(given(value, 'plural', index));
}

function figure(value: unknown): number {
  if (typeof value === 'number') return value;
  throw new Error(`number needs a number, not ${String(value)}`);
}

function picture(value: unknown): string {
  const source = String(given(value, 'svg', 0)).trimStart();
  if (source.startsWith('<svg')) return source;
  throw new Error(`svg needs markup that starts with <svg, not "${source.slice(0, 40)}"`);
}

/** JSON that cannot end the script element it stands in. */
function scriptSafe(value: unknown): string {
  return JSON.stringify(value).replace(
    UNSAFE_IN_SCRIPT,
    (character) => `\\u${character.charCodeAt(0).toString(16).padStart(4, '0')}`,
  );
}

function errorFor(errors: unknown, name: unknown): string | undefined {
  if (!Array.isArray(errors)) return undefined;
  return (errors as FieldError[]).find((error) => error.field === name)?.message;
}
