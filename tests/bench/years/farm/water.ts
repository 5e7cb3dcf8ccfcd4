/**
 * One body of water, hour by hour, by mass balance. Its assumptions are its own, and are written here: nothing of what the
 * service reckons with is used. Alkalinity in meq/L, other substances in mg/L, salinity in PSU, temperature in degC.
 */
export interface Water {
  /** What is in the tanks now, L. */
  litres: number;
  alkalinity: number;
  calcium: number;
  nitrate: number;
  phosphate: number;
  salinity: number;
  temperature: number;
  oxygen: number;
  ph: number;
}

export type Dissolved = 'alkalinity' | 'calcium' | 'nitrate' | 'phosphate' | 'salinity';
const dissolved: readonly Dissolved[] = ['alkalinity', 'calcium', 'nitrate', 'phosphate', 'salinity'];

/** meq/L in 1 dKH. */
export const dkh = 1 / 2.8;
/** mg/L of calcium laid down with 1 meq/L of alkalinity: half a mole of CaCO3 (stoichiometry). */
export const calciumPerMeq = 20.04;

/** New water as it is mixed. */
export const newWater: Readonly<Record<Dissolved, number>> = {
  alkalinity: 8 * dkh,
  calcium: 425,
  nitrate: 0.5,
  phosphate: 0.01,
  salinity: 35,
};

/** What drives the water in one hour, as it truly is. */
export interface Drive {
  /** Litres of the full system. */
  fullL: number;
  /** Alkalinity given and used, meq/L a day; calcium goes along with both. */
  dosed: number;
  used: number;
  /** Nitrate and phosphate that food makes, mg/L a day. */
  nitrateMade: number;
  phosphateMade: number;
  heater: 'auto' | 'on' | 'off';
  setPoint: number;
  roomDegC: number;
  /** Pumps turn and power is there. */
  moving: boolean;
  /** Air is blown in by hand or by battery, though no pump turns. */
  aired: boolean;
  topUp: 'auto' | 'on' | 'off';
  /** Carbon dioxide of the room, ppm. */
  co2: number;
  /** Hour of the day. */
  hour: number;
  /** What all that lives in it breathes, mg/L of oxygen an hour in the dark. */
  breath: number;
}

// Own assumptions: a thousand litres in open glass tanks (time constant 20 h; 1 % of the water evaporates a day), a heater
// that can hold 12 degC above the room, a fan that comes on by itself at 27.5 degC.
const coolingHours = 20;
const heaterPerHour = 0.6;
const [fanFrom, fanPerHour] = [27.5, 0.12];
const evaporatedAnHour = 0.01 / 24;
/** A stuck top-up runs over: this part of the water is replaced by fresh water in an hour. */
const floodedAnHour = 0.004;

/** Lets one hour pass. */
export function passHour(water: Water, drive: Drive): void {
  evaporate(water, drive);
  water.alkalinity += (drive.dosed - drive.used) / 24;
  water.calcium += ((drive.dosed - drive.used) * calciumPerMeq) / 24;
  water.nitrate = Math.max(0, water.nitrate + drive.nitrateMade / 24);
  // Rock and sand take up and give back phosphate: a twentieth of the way to a level of their own a day.
  water.phosphate = Math.max(0, water.phosphate + drive.phosphateMade / 24 - (0.02 * water.phosphate) / 24);
  heat(water, drive);
  breathe(water, drive);
  water.ph = phOf(water.alkalinity, drive.co2) + 0.08 * Math.sin(((drive.hour - 9) / 24) * 2 * Math.PI);
  precipitate(water);
  water.alkalinity = Math.max(0.2, water.alkalinity);
}

function evaporate(water: Water, { topUp, fullL }: Drive): void {
  const left = 1 - evaporatedAnHour;
  water.litres *= left;
  for (const one of dissolved) water[one] /= left;
  if (topUp === 'off') return;
  const missing = Math.max(0, fullL - water.litres);
  mix(water, missing / (water.litres + missing), purified);
  water.litres += missing;
  if (topUp === 'on') mix(water, floodedAnHour, purified);
}

const purified: Readonly<Record<Dissolved, number>> = {
  alkalinity: 0,
  calcium: 0,
  nitrate: 0,
  phosphate: 0,
  salinity: 0,
};

/** Puts other water in place of this part of it. */
export function mix(water: Water, part: number, other: Readonly<Record<Dissolved, number>> = newWater): void {
  for (const one of dissolved) water[one] += (other[one] - water[one]) * part;
}

/** Newton's law, and the heater. */
function heat(water: Water, { heater, setPoint, roomDegC }: Drive): void {
  water.temperature += (roomDegC - water.temperature) / coolingHours;
  if (heater === 'on') water.temperature += heaterPerHour;
  if (heater === 'auto')
    water.temperature += Math.min(heaterPerHour, Math.max(0, setPoint - water.temperature));
  if (water.temperature > fanFrom) water.temperature -= Math.min(fanPerHour, water.temperature - fanFrom);
}

/** Oxygen at saturation, S 35: through the published 6.77 at 25 and 6.24 mg/L at 30 degC. */
const saturation = (degC: number) => 6.77 - 0.107 * (degC - 25);
/** Still water of 0.4 m takes up oxygen by 2.3 cm an hour; moved or aired water follows the air. */
const still = 0.023 / 0.4;

function breathe(water: Water, { moving, aired, breath, hour }: Drive): void {
  const full = saturation(water.temperature);
  const lit = moving && hour >= 8 && hour < 20;
  const rate = moving ? 1 : aired ? 0.5 : still;
  water.oxygen += rate * (full - water.oxygen) - (lit ? breath / 4 : breath);
  water.oxygen = Math.min(1.1 * full, Math.max(0, water.oxygen));
}

/** In balance with the room's air, total scale: 8.10 at 8 dKH and 420 ppm, 7.78 at 1,000 ppm (computed tables). */
const phOf = (alkalinity: number, co2: number) =>
  8.1 + 0.85 * Math.log10((Math.max(0.2, alkalinity) / (8 * dkh)) * (420 / co2));

/** How far it is over-saturated with aragonite: 4.5 at 8 dKH, 420 mg/L and pH 8.10. */
export const omegaOf = ({ alkalinity, calcium, ph }: Pick<Water, 'alkalinity' | 'calcium' | 'ph'>): number =>
  4.5 * (alkalinity / (8 * dkh)) * (calcium / 420) * 10 ** (0.75 * (ph - 8.1));

/** Above about 8 carbonate drops out of water that has surfaces in it, the faster the farther above. */
function precipitate(water: Water): void {
  const over = omegaOf(water) - 8;
  if (over <= 0) return;
  const lost = Math.min(0.006 * over, 0.05 * water.alkalinity);
  water.alkalinity -= lost;
  water.calcium -= lost * calciumPerMeq;
}
