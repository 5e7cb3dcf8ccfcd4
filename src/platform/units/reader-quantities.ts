import type { PrismaClient } from '../../generated/prisma/client.ts';
import { unitsNow } from './units.ts';

/** The unit in which a quantity is shown to whoever reads: a person's own for temperatures, else the farm's. */
export const displayUnitNow = (code: string, farms: string): string =>
  code === 'temperature' ? (unitsNow().temperature ?? farms) : farms;

/** The client whose quantities say the unit of whoever reads as their display unit, wherever they are read. */
export const readersQuantities = (db: PrismaClient): PrismaClient =>
  db.$extends({
    result: {
      quantity: {
        displayUnit: {
          needs: { code: true, displayUnit: true },
          compute: ({ code, displayUnit }) => displayUnitNow(code, displayUnit),
        },
      },
    },
  }) as unknown as PrismaClient;
