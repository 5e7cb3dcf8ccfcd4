import { numberWords } from '../../platform/words/numbers.ts';
import { nameInSentence } from '../../water/quantities/name.rules.ts';
import { sayRise, usualMiddle } from '../../water/quantities/quantities.ts';
import type { FileEntry, LogContext } from './log-reader.rules.ts';

/** What would be logged, in words: "50 mL soda; raises alkalinity by 0.3 dKH". */
export function entryWords(entry: FileEntry, farm: LogContext): string {
  switch (entry.kind) {
    case 'doses':
      return `${numberWords(entry.amount)} ${entry.unit} ${entry.substance}; ${effectWords(entry, farm)}`;
    case 'water_changes':
      return `${numberWords(entry.volumeL)} L${newWaterWords(entry.makeUp)}`;
    case 'feedings':
      return `${entry.amountG === null ? '' : `${numberWords(entry.amountG)} g `}${entry.food}${tankWords(entry.tankId, farm)}`;
    case 'upkeep': {
      const device = farm.devices.find(({ id }) => id === (entry.equipmentId ?? entry.circuitId));
      return `${device?.name ?? ''}: ${entry.work === 'service' ? 'serviced' : 'tested'}`;
    }
  }
}

function effectWords(
  { quantityCode, effect }: { quantityCode: string | null; effect: number | null },
  { quantities }: LogContext,
): string {
  const quantity = quantities.find(({ code }) => code === quantityCode);
  if (quantity === undefined || effect === null) return 'effect not known';
  return `${effect < 0 ? 'lowers' : 'raises'} ${nameInSentence(quantity.name)} by ${sayRise(quantity, Math.abs(effect), usualMiddle(quantity))}`;
}

function newWaterWords(makeUp: Record<string, number> | null): string {
  if (makeUp === null) return '';
  const { salinity } = makeUp;
  if (salinity === undefined) return ' by water of its own';
  return salinity === 0 ? ' by purified water' : ` by water of ${numberWords(salinity)} PSU`;
}

const tankWords = (id: string | null, { tanks }: LogContext) => {
  const tank = tanks.find((one) => one.id === id);
  return tank === undefined ? '' : `, ${tank.name}`;
};
