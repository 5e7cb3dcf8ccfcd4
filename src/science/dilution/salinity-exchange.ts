import { inRange, positive } from '../numeric/range.ts';
import { densityKgPerM3 } from '../seawater/density.ts';

/**
 * Litres to take out of a system and replace, to bring its practical salinity from `salinity` to `target`.
 *
 * @param replacementSalinity 0 for purified water, or that of a stronger or weaker salt mix; all 0 to 42
 * @param temperatureDegC of both waters, -2 to 40
 * @returns litres, 0 to the volume; exact with the densities of EOS-80
 * @throws RangeError when the replacement does not lie beyond the target
 * Source: conservation of mass and of salt.
 */
export function salinityExchangeL(
  volumeL: number,
  salinity: number,
  target: number,
  replacementSalinity: number,
  temperatureDegC = 25,
): number {
  positive(volumeL, 'volume', 'L');
  inRange(target, 0, 42, 'target salinity');
  const outgoing = densityKgPerM3(salinity, temperatureDegC) * (salinity - target);
  const incoming = densityKgPerM3(replacementSalinity, temperatureDegC) * (target - replacementSalinity);
  if (outgoing === 0) return 0;
  if (outgoing * incoming < 0) {
    throw new RangeError(`water of salinity ${replacementSalinity} cannot bring ${salinity} to ${target}`);
  }
  return (volumeL * outgoing) / (outgoing + incoming);
}

/** Practical salinity after `exchangeL` of a system were replaced; the inverse of {@link salinityExchangeL}. */
export function salinityAfterExchange(
  volumeL: number,
  salinity: number,
  exchangeL: number,
  replacementSalinity: number,
  temperatureDegC = 25,
): number {
  positive(volumeL, 'volume', 'L');
  inRange(exchangeL, 0, volumeL, 'exchanged volume', 'L');
  const kept = densityKgPerM3(salinity, temperatureDegC) * (volumeL - exchangeL);
  const added = densityKgPerM3(replacementSalinity, temperatureDegC) * exchangeL;
  return (kept * salinity + added * replacementSalinity) / (kept + added);
}
