import { minuteMs } from '../../science/numeric/time.ts';
import type { QueuedEntry, TabletEntry, TabletRound } from '../store/types.ts';

const counts = ({ standing }: QueuedEntry) => standing !== 'refused';

/** The keys of entries that were taken back since the screen was drawn. */
export function takenBack(kept: readonly QueuedEntry[]): Set<string> {
  const undone = kept.filter(counts).filter(({ entry }) => entry.kind === 'take_back');
  return new Set(undone.map(({ entry }) => entry.entryId ?? ''));
}

/** The newest entry of each lot among those that the drawn screen may lack and that stand. */
export function newestEntryByLot(kept: readonly QueuedEntry[]): Map<string, TabletEntry> {
  const undone = takenBack(kept);
  const noted = kept
    .filter(counts)
    .filter(({ id, entry }) => ['condition', 'count'].includes(entry.kind) && !undone.has(id));
  return new Map(noted.map(({ entry }) => [entry.lotId as string, entry]));
}

/** Notes of lots that were not taken, by lot: nothing is known of those until they are put right. */
export function untakenByLot(kept: readonly QueuedEntry[]): Map<string, QueuedEntry> {
  const refused = kept.filter(
    ({ standing, entry }) => standing === 'refused' && ['condition', 'count'].includes(entry.kind),
  );
  return new Map(refused.map((one) => [one.entry.lotId as string, one]));
}

/** The racks that were looked at, by the drawn screen or by a tap since, and not taken back. */
export function racksLooked(round: TabletRound, kept: readonly QueuedEntry[]): Set<string> {
  const undone = takenBack(kept);
  const drawn = round.racks.filter((rack) => rack.looked && !undone.has(rack.pass ?? ''));
  const tapped = kept.filter(counts).filter(({ id, entry }) => entry.kind === 'rack_well' && !undone.has(id));
  return new Set([...drawn.map((rack) => rack.id), ...tapped.map(({ entry }) => entry.rackId as string)]);
}

/** The pass of a rack that was tapped since the screen was drawn and stands; undefined where there is none. */
export const passOf = (rackId: string, kept: readonly QueuedEntry[]): TabletEntry | undefined => {
  const undone = takenBack(kept);
  const passed = kept
    .filter(counts)
    .filter(({ entry }) => entry.kind === 'rack_well' && entry.rackId === rackId);
  return passed.findLast(({ id }) => !undone.has(id))?.entry;
};

/** What was tapped last of what this tablet keeps, to be taken back in one tap though the page was loaded anew since. */
export function lastTap(
  round: TabletRound | undefined,
  kept: readonly QueuedEntry[],
): { entryId: string; label: string; path: string } | null {
  const undone = takenBack(kept);
  const one = kept
    .filter(counts)
    .findLast(({ id, entry }) => ['rack_well', 'condition', 'count'].includes(entry.kind) && !undone.has(id));
  const path = round?.racks.find(({ id }) => id === one?.entry.rackId)?.path;
  return one === undefined || path === undefined ? null : { entryId: one.id, label: one.entry.label, path };
}

/** Feedings among these after which nobody tapped that the pumps run again. */
export function pumpsLeftOff(
  feedings: readonly QueuedEntry[],
  kept: readonly QueuedEntry[],
): { id: string; due: Date }[] {
  const on = new Set(
    kept.filter(({ entry }) => entry.kind === 'pumps_on').map(({ entry }) => entry.feedingId),
  );
  return feedings
    .filter(counts)
    .filter(({ entry }) => Number(entry.pumpsOffMin) > 0 && !on.has(entry.id))
    .map(({ entry }) => ({
      id: entry.id,
      due: new Date(Date.parse(entry.at) + Number(entry.pumpsOffMin) * minuteMs),
    }));
}
