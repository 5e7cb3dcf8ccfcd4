import { andWords } from '../../platform/words/lists.ts';
import { numberWords } from '../../platform/words/numbers.ts';

import { afterWaterChange } from '../../science/dilution.ts';
import { DAILY_CAPS } from '../../science/dosing/daily-caps.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import { type Quantity, say, sayDifference, usualMiddle } from '../quantities/quantities.ts';

/** What a water change moves at once, and how far it may in a day; canonical units. */
const moved = {
  salinity: DAILY_CAPS.salinity.usual,
  // Common practice: 1 °C a day inside the range where stock lives.
  temperature: 1,
  alkalinity: DAILY_CAPS.alkalinity.usual,
  calcium: DAILY_CAPS.calcium.usual,
} as const;
type Moved = keyof typeof moved;
export const movedByChange = Object.keys(moved) as Moved[];

/** Of these it is said when nobody knows them in the new water; calcium follows the salt. */
const askedOf: readonly Moved[] = ['salinity', 'temperature', 'alkalinity'];

/** What is known when water is changed. Levels in canonical units; null where not known. */
export interface ChangeContext {
  quantities: readonly Quantity[];
  /** The newest trusted reading of each, not older than a week. */
  levels: Readonly<Partial<Record<string, number>>>;
  /** What the new water holds. */
  newWater: Readonly<Partial<Record<string, number>>>;
  /** The middle of the changes of 120 days, or what a routine plans, as a part of the water; null where there is neither. */
  usual: number | null;
}

/** What a water change does, and what speaks against it. */
export interface ChangeOutlook {
  says: string;
  /** Why it wants a reason before it is kept, a sentence each. */
  concerns: string[];
}

/** A part of the water up to which water that nobody tested is taken as it comes: 20 to 30 % at once is common practice, no source. */
const largePart = 0.3;
/** So many times the usual change is still the usual one; own choice. */
const stillUsual = 1.5;

const percent = (part: number) => `${numberWords(100 * part, part < 0.1 ? 1 : 0)} %`;

/**
 * What a change of `fraction` of the water does to what stock feels at once. A jump beyond the day's cap wants a reason;
 * so does a change beyond the usual with water that nobody tested, of which nothing can be said.
 */
export function changeOutlook(fraction: number, context: ChangeContext): ChangeOutlook {
  const known = context.quantities.filter(isMoved);
  const steps = known.flatMap((quantity) => stepOf(quantity, fraction, context));
  const unknown = known.filter(({ code }) => askedOf.includes(code) && context.newWater[code] === undefined);
  const unasked = fraction <= Math.max(largePart, stillUsual * (context.usual ?? 0)) + 1e-9;
  return {
    says: steps.map(({ says }) => says).join(' '),
    concerns: [
      ...steps.flatMap(({ concern }) => (concern === null ? [] : [concern])),
      ...(unknown.length === 0 || unasked ? [] : [untested(fraction, unknown, context.usual)]),
    ],
  };
}

const isMoved = <Q extends Pick<Quantity, 'code'>>(quantity: Q): quantity is Q & { code: Moved } =>
  quantity.code in moved;

/** What the change does to one quantity; nothing where the new water is not known, or the level is not and cannot be. */
function stepOf(
  quantity: Quantity & { code: Moved },
  fraction: number,
  { levels, newWater }: ChangeContext,
): { says: string; concern: string | null }[] {
  const [level, fresh] = [levels[quantity.code], newWater[quantity.code]];
  const name = nameInSentence(quantity.name);
  if (fresh === undefined) return [];
  if (level === undefined) {
    if (fresh !== 0) return [];
    const falls = `It lowers ${name} by ${percent(fraction)} of what it is, which was not read in the seven days before.`;
    const far = fraction * usualMiddle(quantity) > moved[quantity.code];
    return [{ says: '', concern: far ? falls : null }];
  }
  const after = afterWaterChange(level, fresh, fraction);
  const difference = (value: number) => sayDifference(quantity, Math.abs(value), level);
  const cap = moved[quantity.code];
  const far = Math.abs(after - level) > cap * (1 + 1e-9);
  return [
    {
      says: `It brings ${name} from ${say(quantity, level)} to about ${say(quantity, after)}.`,
      concern: far
        ? `That moves ${name} by ${difference(after - level)} at once; usual practice is at most ${difference(cap)} in a day.`
        : null,
    },
  ];
}

function untested(fraction: number, unknown: readonly Quantity[], usual: number | null): string {
  const names = andWords(unknown.map(({ name }) => nameInSentence(name)));
  const compared =
    usual === null
      ? 'No water change is logged here to compare it with.'
      : `Usual here is ${percent(usual)}.`;
  return `${percent(fraction)} is a large part of the water. ${compared} The new water’s ${names} ${unknown.length === 1 ? 'is' : 'are'} not known, so what it does to ${unknown.length === 1 ? 'it' : 'them'} is not known: ${percent(fraction)} of each difference arrives at once. Test the new water before it goes in.`;
}
