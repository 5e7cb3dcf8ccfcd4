import { convert } from '../../science/units.ts';
import type { TagRecord } from '../record/record.ts';

/** What the buyer measured at home, and how long the pieces were on the way. */
export interface Arrival {
  alkalinityDkh?: number | undefined;
  salinityPsu?: number | undefined;
  temperatureC?: number | undefined;
  hoursInBag?: number | undefined;
}

// Limits of common practice unless a source is named.
const salinityStep = 1.3;
const alkalinityStep = 1;
const temperatureStep = 1;
/** W. Indian Ocean J. Mar. Sci. 20 (2021) 81: safe below 20 h with oxygen, partial death in all past 48 h. */
const bagHours = { long: 20, tooLong: 48 };

/** What a record says of one quantity, in the unit asked for; null where it was not tested, or cannot be converted. */
function ours(record: TagRecord, code: string, unit: string): number | null {
  const found = record.water.find((one) => one.quantity === code);
  if (found === undefined) return null;
  try {
    return convert(code, found.median, found.unit, unit);
  } catch {
    return null;
  }
}

/** A sentence for each thing that matters when the pieces come into the buyer's water, the most urgent first. */
export function arrivalWarnings(record: TagRecord, theirs: Arrival): string[] {
  return [
    ...bagWarnings(theirs.hoursInBag),
    ...salinityWarning(ours(record, 'salinity', 'PSU'), theirs.salinityPsu, theirs.hoursInBag),
    ...temperatureWarning(ours(record, 'temperature', 'degC'), theirs.temperatureC),
    ...alkalinityWarning(ours(record, 'alkalinity', 'dKH'), theirs.alkalinityDkh),
  ];
}

/** What the buyer entered that is as near to what the record says as to need nothing. */
export function alike(record: TagRecord, theirs: Arrival): string[] {
  const near = (code: string, unit: string, other: number | undefined, step: number) => {
    const own = ours(record, code, unit);
    return own !== null && other !== undefined && Math.abs(other - own) <= step ? [code] : [];
  };
  return [
    ...near('salinity', 'PSU', theirs.salinityPsu, salinityStep),
    ...near('temperature', 'degC', theirs.temperatureC, temperatureStep),
    ...near('alkalinity', 'dKH', theirs.alkalinityDkh, alkalinityStep),
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

const differs = (own: number | null, other: number | undefined, step: number): number | null =>
  own === null || other === undefined || Math.abs(other - own) <= step ? null : other - own;

function salinityWarning(own: number | null, other: number | undefined, hours = 0): string[] {
  const by = differs(own, other, salinityStep);
  if (by === null) return [];
  const said = `Your water is ${Math.abs(by).toFixed(1)} ${by > 0 ? 'saltier' : 'less salty'} than theirs was`;
  // A long drip would bring the bag's ammonia to life: the way round it is clean water of the old salinity.
  if (hours > bagHours.long)
    return [
      `${said}: put the pieces at once into a tub of clean salt water of ${own?.toFixed(1)} PSU, and bring the tub to your salinity over half an hour or more.`,
    ];
  return [
    `${said}: match salinity first, over half an hour or more of small additions of your water, before anything else.`,
  ];
}

function temperatureWarning(own: number | null, other: number | undefined): string[] {
  const by = differs(own, other, temperatureStep);
  if (by === null) return [];
  return [
    `Your water is ${Math.abs(by).toFixed(1)} °C ${by > 0 ? 'warmer' : 'cooler'}: float the closed bag until both are the same.`,
  ];
}

function alkalinityWarning(own: number | null, other: number | undefined): string[] {
  const by = differs(own, other, alkalinityStep);
  if (by === null) return [];
  return [
    `Your alkalinity is ${Math.abs(by).toFixed(1)} dKH ${by > 0 ? 'higher' : 'lower'}: for the first week give it a little less light than the plan says, and do not change your water for it.`,
  ];
}
