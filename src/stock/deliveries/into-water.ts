import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { levelWords } from '../../platform/units/everyday.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import type { DayTemperature } from '../pests/clock.rules.ts';
import { pestInWords } from '../pests/pests.rules.ts';
import type { TemperaturesOf } from '../pests/tasks.ts';

/** From so many degrees apart the water of a box and of a tank is asked about (common practice, no source). */
const apart = 5;

/** A temperature of the water is known for so long; days, own choice. */
const knownDays = 3;

/**
 * What speaks against taking a box into the water of a tank, a sentence each: a pest that the water is watched for, and a temperature
 * far from the box's. A tank with water of its own has no tests of its own, so that its temperature is not known. Two queries at most.
 */
export async function againstWater(
  work: Work,
  tank: { id: string; name: string; systemId: string; ownWater: string },
  { at, boxDegC }: { at: Date; boxDegC: number | null },
  temperaturesOf: TemperaturesOf,
): Promise<string[]> {
  const isOwn = tank.ownWater !== '';
  const watches = await work.tx.pestWatch.findMany({
    where: { systemId: tank.systemId, tankId: isOwn ? tank.id : null, endedAt: null },
    orderBy: { openedAt: 'asc' },
  });
  const asked =
    boxDegC === null || isOwn
      ? new Map()
      : await temperaturesOf(readerOf(work.tx), [tank.systemId], work.now);
  const days: readonly DayTemperature[] = asked.get(tank.systemId) ?? [];
  const degC = days.findLast((one) => Math.abs(daysBetween(one.at, at)) <= knownDays)?.degC;
  const pests = watches.map(
    ({ pest }) =>
      `The water of ${tank.name} is under watch for ${pestInWords(pest)}: what comes into it may catch it.`,
  );
  if (boxDegC === null || degC === undefined || Math.abs(boxDegC - degC) < apart) return pests;
  return [
    ...pests,
    `The box has ${levelWords('temperature', boxDegC)} and the water of ${tank.name} ${levelWords('temperature', degC)}: float the closed bags until both are the same, before anything else.`,
  ];
}
