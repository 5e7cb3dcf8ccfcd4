import { numberWords } from '../../platform/words/numbers.ts';
import { doseEffectWords } from '../../water/log/words.rules.ts';
import type { FileEntry, LogContext } from './log-reader.rules.ts';

/** What would be logged, in words: "50 mL soda; raises alkalinity by 0.3 dKH". */
export function entryWords(entry: FileEntry, farm: LogContext): string {
  switch (entry.kind) {
    case 'doses':
      return `${numberWords(entry.amount)} ${entry.unit} ${entry.substance}; ${doseEffectWords(entry, farm.quantities)}`;
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
