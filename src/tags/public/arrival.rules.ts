import type { RecordedWater, TagRecord } from '../record/record.ts';
import { changedLast, inUnit, NOTICEABLE } from '../record/water-change.rules.ts';

/** What the buyer measured at home, and how long the pieces were on the way. */
export interface Arrival {
  alkalinityDkh?: number | undefined;
  salinityPsu?: number | undefined;
  temperatureC?: number | undefined;
  hoursInBag?: number | undefined;
}

/** W. Indian Ocean J. Mar. Sci. 20 (2021) 81: safe below 20 h with oxygen, partial death in all past 48 h. */
const bagHours = { long: 20, tooLong: 48 };

/** What a record says of one quantity, in the unit asked for: the middle of its tests, and the last of them. */
interface Ours {
  usual: number;
  /** Null where the record does not say it. */
  latest: number | null;
  /** The last test found other water than those before. */
  changed: boolean;
  water: RecordedWater;
}

/** Null where it was not tested, or cannot be converted. */
function ours(record: TagRecord, code: keyof typeof NOTICEABLE): Ours | null {
  const found = record.water.find(({ quantity }) => quantity === code);
  if (found === undefined) return null;
  const { unit } = NOTICEABLE[code];
  const usual = inUnit(found, found.median, unit);
  const latest = found.latest === undefined ? null : inUnit(found, found.latest, unit);
  return usual === null ? null : { usual, latest, changed: changedLast(found), water: found };
}

/** A sentence for each thing that matters when the pieces come into the buyer's water, the most urgent first. */
export function arrivalWarnings(record: TagRecord, theirs: Arrival): string[] {
  return [
    ...bagWarnings(theirs.hoursInBag),
    ...salinityWarning(ours(record, 'salinity'), theirs.salinityPsu, theirs.hoursInBag),
    ...temperatureWarning(ours(record, 'temperature'), theirs.temperatureC),
    ...alkalinityWarning(ours(record, 'alkalinity'), theirs.alkalinityDkh),
  ];
}

/**
 * What the buyer entered that is as near to what the record says as to need nothing: to the last test and to most of them.
 * Where the record does not say the last, it may be the highest or the lowest. Nothing is near a figure in doubt.
 */
export function alike(record: TagRecord, theirs: Arrival): string[] {
  const near = (code: keyof typeof NOTICEABLE, other: number | undefined) => {
    const own = ours(record, code);
    if (own === null || other === undefined) return [];
    const { unit, step } = NOTICEABLE[code];
    const { doubt, waiting, latest, low, high, median } = own.water;
    const figures = [median, ...(latest === undefined ? [low, high] : [latest]), waiting ?? median];
    const all = figures.map((value) => inUnit(own.water, value, unit));
    return doubt === '' && all.every((value) => value !== null && Math.abs(other - value) <= step)
      ? [code]
      : [];
  };
  return [
    ...near('salinity', theirs.salinityPsu),
    ...near('temperature', theirs.temperatureC),
    ...near('alkalinity', theirs.alkalinityDkh),
  ];
}

function bagWarnings(hours: number | undefined): string[] {
  if (hours === undefined || hours <= bagHours.long) return [];
  const ammonia =
    'In a closed bag pH falls and ammonia gathers; as pH rises again the ammonia turns poisonous. Match the temperature, then take the pieces out of it within minutes: no long drip, and none of the bag’s water into the tank.';
  if (hours <= bagHours.tooLong) return [`${hours} hours on the way is long. ${ammonia}`];
  return [
    `${hours} hours on the way is more than most pieces take unharmed. Photograph them in the bag, tell the seller today, and look for receding flesh for two weeks. ${ammonia}`,
  ];
}

/** How far the buyer's water is from the farm's, and from which figure of it. */
interface Difference {
  by: number;
  /** "than theirs was", or than at the last test where that was other water. */
  than: string;
}

/** The larger of the differences to the last test and to most of them; null where both are small, or not known. */
function differs(
  own: Ours | null,
  other: number | undefined,
  code: keyof typeof NOTICEABLE,
): Difference | null {
  if (own === null || other === undefined) return null;
  const { usual, latest, changed } = own;
  const to = (from: number, than: string) => ({ by: other - from, than });
  const than = changed ? 'than it mostly was' : 'than theirs was';
  const both = [
    to(usual, than),
    ...(latest !== null && changed ? [to(latest, 'than at their last test')] : []),
  ];
  const [most] = both.sort((a, b) => Math.abs(b.by) - Math.abs(a.by));
  return most !== undefined && Math.abs(most.by) > NOTICEABLE[code].step ? most : null;
}

function salinityWarning(own: Ours | null, other: number | undefined, hours = 0): string[] {
  const found = differs(own, other, 'salinity');
  if (found === null) return [];
  const { by, than } = found;
  const said = `Your water is ${Math.abs(by).toFixed(1)} ${by > 0 ? 'saltier' : 'less salty'} ${than}`;
  // A long drip would bring the bag's ammonia to life: the way round it is clean water of the old salinity.
  if (hours > bagHours.long)
    return [
      `${said}: put the pieces at once into a tub of clean salt water of ${(own?.latest ?? own?.usual)?.toFixed(1)} PSU, and bring the tub to your salinity over half an hour or more.`,
    ];
  return [
    `${said}: match salinity first, over half an hour or more of small additions of your water, before anything else.`,
  ];
}

function temperatureWarning(own: Ours | null, other: number | undefined): string[] {
  const found = differs(own, other, 'temperature');
  if (found === null) return [];
  const { by, than } = found;
  return [
    `Your water is ${Math.abs(by).toFixed(1)} °C ${by > 0 ? 'warmer' : 'cooler'} ${than}: float the closed bag until both are the same.`,
  ];
}

function alkalinityWarning(own: Ours | null, other: number | undefined): string[] {
  const found = differs(own, other, 'alkalinity');
  if (found === null) return [];
  const { by, than } = found;
  return [
    `Your alkalinity is ${Math.abs(by).toFixed(1)} dKH ${by > 0 ? 'higher' : 'lower'} ${than}: for the first week give it a little less light than the plan says, and do not change your water for it.`,
  ];
}
