import { finite, inRange, notNegative, positive } from './numeric/range.ts';
import { densityKgPerM3 } from './seawater/density.ts';

/** Heat of seawater at S 35 and 25 degC, J/kg/K. Source: Millero, Perron & Desnoyers 1973 (from memory). */
const SPECIFIC_HEAT_J_PER_KG_K = 3993;

/** Heat that warms this much seawater by one degree, J/K. 1 m3 at S 35 and 25 degC: 4.085 MJ. */
export function heatCapacityJPerK(volumeL: number, salinity = 35, temperatureDegC = 25): number {
  positive(volumeL, 'volume', 'L');
  return (volumeL / 1000) * densityKgPerM3(salinity, temperatureDegC) * SPECIFIC_HEAT_J_PER_KG_K;
}

/** Power that warms or cools this much seawater by `degCPerHour`, kW, on top of what the room takes or gives. */
export function heatingPowerKw(volumeL: number, degCPerHour: number): number {
  return (heatCapacityJPerK(volumeL) * notNegative(degCPerHour, 'rate', 'degC/h')) / 3600 / 1000;
}

/**
 * Time constant of water that went from one temperature to another in `hours` (above 0) by drifting to its room, h;
 * null where it did not drift towards that room. Newton's law, solved for the constant.
 */
export function driftTimeConstantH(
  fromDegC: number,
  toDegC: number,
  roomDegC: number,
  hours: number,
): number | null {
  positive(hours, 'time', 'h');
  const share = (finite(toDegC, 'temperature') - roomDegC) / (finite(fromDegC, 'temperature') - roomDegC);
  return share > 0 && share < 1 ? -hours / Math.log(share) : null;
}

/** Water of a tank after `hours` in a room that stays as it is, degC. Source: Newton's law of cooling. */
export function temperatureAfter(
  fromDegC: number,
  roomDegC: number,
  timeConstantH: number,
  hours: number,
): number {
  positive(timeConstantH, 'time constant', 'h');
  return roomDegC + (fromDegC - roomDegC) * Math.exp(-notNegative(hours, 'time', 'h') / timeConstantH);
}

/** Hours until the water passes `toDegC` by Newton's law; Infinity where it never does, 0 where it has. */
export function hoursToTemperature(
  fromDegC: number,
  toDegC: number,
  roomDegC: number,
  timeConstantH: number,
): number {
  positive(timeConstantH, 'time constant', 'h');
  finite(fromDegC, 'temperature', 'degC');
  const share = (fromDegC - roomDegC) / (toDegC - roomDegC);
  if (fromDegC >= toDegC !== roomDegC < fromDegC || fromDegC === toDegC) return 0;
  return share > 0 && Number.isFinite(share) ? timeConstantH * Math.log(share) : Number.POSITIVE_INFINITY;
}

/** A vessel as heat sees it. */
export interface Vessel {
  readonly lengthM: number;
  readonly widthM: number;
  /** Of the water, m. */
  readonly waterM: number;
}

/** Heat transfer of surfaces, W/m2/K. */
export const heatTransferWPerM2K = {
  /** Glass of 10 mm: 1/(0.13 + d/lambda), surface resistance by ISO 6946, lambda 1.0 W/m/K from memory. */
  glass: 1 / (0.13 + 0.01),
  /** Acrylic of 10 mm, lambda 0.19 W/m/K from memory. */
  acrylic: 1 / (0.13 + 0.01 / 0.19),
  /** Foam of 25 mm, lambda 0.035 W/m/K from memory. */
  foam: 1 / (0.13 + 0.025 / 0.035),
  /** A bottom on a stand; open and covered water without evaporation. Own choice. */
  bottom: 2,
  openWater: 9,
  coveredWater: 3,
} as const;

/**
 * Heat conductance of a vessel to its room, W/K.
 *
 * Error: a third; draughts, stands and pipes differ. An open surface loses as much again by evaporation:
 * see {@link evaporationWPerM2}.
 */
export function vesselConductanceWPerK({ lengthM, widthM, waterM }: Vessel, covered: boolean): number {
  const [top, walls] = [lengthM * widthM, 2 * (lengthM + widthM) * waterM];
  const { glass, bottom, coveredWater, openWater } = heatTransferWPerM2K;
  return walls * glass + top * bottom + top * (covered ? coveredWater : openWater);
}

/** Heat to evaporate a kilogram of water, J/kg, near 25 degC. */
const HEAT_OF_EVAPORATION = 2.44e6;

/**
 * Heat that open water loses by evaporation into still air, W/m2; 0 where the air is moister than the water.
 *
 * @param waterDegC 0 to 40
 * @param roomDegC 0 to 40
 * @param humidity of the room, 0 to 1
 * Error: a third; a fan or wind makes it several times more.
 * Source: Shah 2014, ASHRAE Transactions 120 (constants from memory); vapour pressure after Magnus.
 */
export function evaporationWPerM2(waterDegC: number, roomDegC: number, humidity: number): number {
  inRange(waterDegC, 0, 40, 'water', 'degC');
  inRange(roomDegC, 0, 40, 'room', 'degC');
  inRange(humidity, 0, 1, 'humidity');
  const water = moistAir(waterDegC, 1);
  const room = moistAir(roomDegC, humidity);
  const density = room.dryKgPerM3 - water.dryKgPerM3;
  const factor = density < 0.02 ? 40 : 35;
  const rising =
    density <= 0 ? 0 : factor * water.dryKgPerM3 * Math.cbrt(density) * (water.ratio - room.ratio);
  const spreading = 0.00005 * (water.vapourPa - room.vapourPa);
  return (Math.max(0, rising, spreading) * HEAT_OF_EVAPORATION) / 3600;
}

/** Air over water of this temperature: vapour pressure Pa, kg of water in a kg of dry air, density of the dry part. */
function moistAir(degC: number, humidity: number) {
  const vapourPa = humidity * 610.94 * Math.exp((17.625 * degC) / (degC + 243.04));
  const dryPa = 101_325 - vapourPa;
  return { vapourPa, ratio: (0.62198 * vapourPa) / dryPa, dryKgPerM3: dryPa / (287.055 * (degC + 273.15)) };
}

/**
 * Hours until an open or covered vessel in a room of constant temperature passes `toDegC`, evaporation counted where it
 * is open; Infinity past `longestH`. In steps of a minute.
 *
 * Error: a third, from {@link vesselConductanceWPerK} and {@link evaporationWPerM2}; better from the farm's own probe.
 */
export function vesselHours(
  vessel: Vessel,
  fromDegC: number,
  toDegC: number,
  room: { degC: number; humidity: number; covered: boolean },
  longestH = 96,
): number {
  const capacity = heatCapacityJPerK(vessel.lengthM * vessel.widthM * vessel.waterM * 1000);
  const conductance = vesselConductanceWPerK(vessel, room.covered);
  const top = vessel.lengthM * vessel.widthM;
  let degC = fromDegC;
  for (let minute = 0; minute < longestH * 60; minute += 1) {
    if (degC <= toDegC) return minute / 60;
    const evaporated = room.covered ? 0 : top * evaporationWPerM2(degC, room.degC, room.humidity);
    degC -= ((conductance * (degC - room.degC) + evaporated) * 60) / capacity;
  }
  return Number.POSITIVE_INFINITY;
}
