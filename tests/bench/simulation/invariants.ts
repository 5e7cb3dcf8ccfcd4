import { minuteMs } from '../../../src/science/numeric/time.ts';
import type { Ledger } from './ledger.ts';
import type { SimulatedTablet, Tapped } from './tablet.ts';

/** How late a request may arrive, ms; a time that is put right by the device's clock is off by as much. */
const latest = 4 * minuteMs;

/** All that is lost, doubled, altered or out of order, in words. */
export async function faultsFound(
  ledger: Ledger,
  tablets: readonly SimulatedTablet[],
  clocksAreRight: boolean,
): Promise<string[]> {
  const found: string[] = [];
  for (const [i, tablet] of tablets.entries()) {
    const name = `tablet ${i + 1}`;
    const onTablet = new Map((await tablet.disk.all()).map((kept) => [kept.id, kept]));
    for (const tapped of tablet.tapped.values())
      found.push(...entryFaults(ledger, tablet, tapped, onTablet).map((what) => `${name}: ${what}`));
    for (const { id, standing, onlyHere } of onTablet.values())
      if (standing === 'waiting' || standing === 'open' || onlyHere)
        found.push(`${name}: ${id} is left ${standing}`);
    found.push(...orderFaults(ledger, tablet).map((what) => `${name}: ${what}`));
    if (clocksAreRight) found.push(...timeFaults(ledger, tablet).map((what) => `${name}: ${what}`));
  }
  const known = new Set(tablets.flatMap(({ tapped }) => [...tapped.keys()]));
  for (const id of ledger.rows.keys()) if (!known.has(id)) found.push(`${id} was never tapped`);
  return found;
}

/** What stands for an entry in the end: itself, or what a hand put in its place, on the service or still on the tablet. */
function standIns(
  ledger: Ledger,
  tablet: SimulatedTablet,
  id: string,
  onTablet: ReadonlyMap<string, unknown>,
): string[] {
  const tapped = tablet.tapped.get(id);
  const here = ledger.rows.has(id) || onTablet.has(id) || tapped?.isLetGo ? [id] : [];
  return [...here, ...(tapped?.replacedBy ?? []).flatMap((by) => standIns(ledger, tablet, by, onTablet))];
}

function entryFaults(
  ledger: Ledger,
  tablet: SimulatedTablet,
  tapped: Tapped,
  onTablet: ReadonlyMap<string, unknown>,
): string[] {
  const { rows, done } = ledger;
  const { entry, isUnsure } = tapped;
  if (tapped.takenBack !== undefined) return takenBackFaults(ledger, tapped, onTablet);
  const row = rows.get(entry.id);
  const times = done.get(entry.id) ?? 0;
  const isTaken = row !== undefined && row.kind !== 'refused';
  const standing = standIns(ledger, tablet, entry.id, onTablet);
  const taken = standing.filter((id) => ![undefined, 'refused'].includes(rows.get(id)?.kind));
  const found: string[] = [];
  if (times > 1) found.push(`${entry.id} was done ${times} times`);
  if (isTaken && times === 0) found.push(`${entry.id} was taken and not done`);
  if (!isUnsure && standing.length === 0) found.push(`${entry.id} ("${entry.note}") is lost`);
  if (taken.length > 1) found.push(`of ${entry.id} were taken: ${taken.join(' and ')}`);
  if (row !== undefined && !tablet.versionsOf(tapped).some(({ note }) => note === row.entry.note))
    found.push(`${entry.id} says "${row.entry.note}" instead of "${entry.note}"`);
  return found;
}

/** What was taken back stands nowhere as done; nobody was told so where it is unsure. */
function takenBackFaults(
  { rows, done }: Ledger,
  { entry: { id }, takenBack }: Tapped,
  onTablet: ReadonlyMap<string, unknown>,
): string[] {
  if (takenBack === 'unsure') return (done.get(id) ?? 0) > 1 ? [`${id} was done twice`] : [];
  const kind = rows.get(id)?.kind ?? 'taken_back';
  const stands =
    kind !== 'taken_back' || (done.get(id) ?? 0) > 0 || (rows.get(id) === undefined && onTablet.has(id));
  return stands ? [`${id} was taken back and stands`] : [];
}

/** Those that were never set aside come in the order of their taps. */
function orderFaults({ rows }: Ledger, tablet: SimulatedTablet): string[] {
  const commits = tablet.order
    .filter((id) => {
      const { wasAside, takenBack } = tablet.tapped.get(id) ?? {};
      return wasAside === false && takenBack === undefined;
    })
    .flatMap((id) => rows.get(id) ?? []);
  return commits.flatMap((row, i) => {
    const before = commits[i - 1];
    return before !== undefined && before.commit > row.commit ? [`${row.id} came before ${before.id}`] : [];
  });
}

function timeFaults({ rows }: Ledger, tablet: SimulatedTablet): string[] {
  return [...tablet.tapped.values()].flatMap(({ entry, trueAt, takenBack }) => {
    if (takenBack !== undefined) return [];
    const at = rows.get(entry.id)?.at.getTime();
    const off = at === undefined ? 0 : Math.abs(at - trueAt);
    return off > latest ? [`${entry.id} is ${Math.round(off / minuteMs)} min off`] : [];
  });
}
