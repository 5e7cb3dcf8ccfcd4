import type { WaterOfTankChanges } from '../../farm/tanks/tanks.ts';
import { joinWatches, openWatch } from './watches.ts';

/**
 * A watch follows the water. A tank that is taken off the water of its system stays under watch for what that is watched
 * for; one that is joined to it brings its own watch along, and the clock begins with the joining, as with lots that come.
 */
export const waterOfTankChanges: WaterOfTankChanges = async (work, { id: tankId, name, system }, isOwn) => {
  const systemId = system.id;
  const [from, to] = isOwn ? [null, tankId] : [tankId, null];
  const open = await work.tx.pestWatch.findMany({
    where: { systemId, tankId: from, endedAt: null },
    orderBy: [{ openedAt: 'asc' }, { id: 'asc' }],
  });
  const why = isOwn
    ? `${name} was taken off the water of ${system.name}, which is under watch.`
    : `The water of ${name}, which was under watch, was joined to it.`;
  for (const { id, pest } of open) {
    const watchId = await openWatch(work, { systemId, tankId: to }, pest, { at: work.now, why });
    if (!isOwn) await joinWatches(work, id, watchId, `Its water was joined to that of ${system.name}.`);
  }
};
