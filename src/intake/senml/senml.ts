import type { Work } from '../../platform/change.ts';
import { dayMs, minuteMs } from '../../science/numeric/time.ts';
import { convert } from '../../science/units.ts';
import { uncertaintyOf } from '../../water/entry/entry.rules.ts';
import { say } from '../../water/quantities/quantities.ts';
import { type ProbeReport, saveProbeReports } from '../../water/readings/probe-reports.ts';
import { countByDay, type PlacedName, probesNamed } from '../probes/probes.ts';
import type { ResolvedRecord } from './senml.rules.ts';
import { senmlUnits } from './units.rules.ts';

/** What became of a pack. */
export interface PackResult {
  taken: number;
  /** Values of an instrument and time that were there already. */
  present: number;
  rejected: { name: string; at: string; value: number; reason: string }[];
  /** Names that stand for nothing yet. A person places them; until then what they report is not kept. */
  unknown: string[];
}

/** The answer lists at most this many rejected values: enough to see what is wrong; own choice. */
const mostRejectedListed = 100;
/** How far ahead of the service's clock an instrument's may be; own choice. */
const clockToleranceMs = 5 * minuteMs;

/**
 * Saves the values of a pack, each under the system and instrument its name stands for. Impossible values are rejected
 * and counted by name and day; unknown names are remembered and returned. A pack sent twice is saved once.
 */
export async function savePack(
  work: Work,
  siteId: string,
  records: readonly ResolvedRecord[],
): Promise<PackResult> {
  const [result] = await savePacks(work, siteId, [records]);
  if (result === undefined) throw new Error('no answer for a pack');
  return result;
}

/**
 * The same for several packs at once, with one line in the journal: what became of each, in their order. A value that
 * two of them bring is taken of the first.
 */
export async function savePacks(
  work: Work,
  siteId: string,
  packs: readonly (readonly ResolvedRecord[])[],
): Promise<PackResult[]> {
  const names = [...new Set(packs.flatMap((pack) => pack.map((one) => one.n)))];
  const byName = await probesNamed(work, names);
  const unitOf = senmlUnits();
  const read = packs.map((pack) => readPack({ byName, unitOf, now: work.now }, pack));
  const saved = await saveProbeReports(
    work,
    read.flatMap(({ reports }) => reports),
  );
  await countByDay(work, [
    ...saved.map(({ name, at }) => ({ name, at: at.toISOString(), impossible: null })),
    ...read
      .flatMap(({ rejected }) => rejected)
      .filter(({ isImpossible }) => isImpossible)
      .map(({ name, at, value }) => ({ name, at, impossible: value })),
  ]);
  const isSaved = new Set(saved);
  const results = read.map(({ reports, rejected, unknown }) => {
    const taken = reports.filter((report) => isSaved.has(report)).length;
    return { taken, present: reports.length - taken, rejected, unknown };
  });
  const sum = (count: (result: (typeof results)[number]) => number) =>
    results.reduce((all, result) => all + count(result), 0);
  work.record(
    'probes.reported',
    { type: 'site', id: siteId },
    {
      taken: sum(({ taken }) => taken),
      present: sum(({ present }) => present),
      rejected: sum(({ rejected }) => rejected.length),
      unknown: new Set(results.flatMap(({ unknown }) => unknown)).size,
    },
  );
  return results.map(({ rejected, ...result }) => ({
    ...result,
    rejected: rejected.slice(0, mostRejectedListed).map(({ isImpossible, ...one }) => one),
  }));
}

/** What packs are read by. */
interface Known {
  byName: ReadonlyMap<string, PlacedName>;
  unitOf: ReturnType<typeof senmlUnits>;
  now: Date;
}

function readPack(known: Known, pack: readonly ResolvedRecord[]) {
  const { byName } = known;
  const read = pack.flatMap((record) => {
    const probe = byName.get(record.n);
    return probe === undefined ? [] : readRecord(probe, record, known);
  });
  return {
    reports: read.filter((one): one is ProbeReport => !('reason' in one)),
    rejected: read.filter((one) => 'reason' in one),
    unknown: [...new Set(pack.map(({ n }) => n))].filter((name) => !byName.get(name)?.kit),
  };
}

interface Rejected {
  name: string;
  at: string;
  value: number;
  reason: string;
  /** The value cannot be, which says something of the instrument. */
  isImpossible: boolean;
}

function readRecord(
  { name, system, kit }: PlacedName,
  { t, v, u, note = '' }: ResolvedRecord,
  { unitOf, now }: Known,
): (ProbeReport | Rejected)[] {
  if (system === null || kit === null) return [];
  const { method } = kit;
  const { quantity } = method;
  const at = new Date(Math.round(t * 1000));
  const reject = (reason: string, isImpossible: boolean): Rejected[] => [
    { name, at: Number.isNaN(at.getTime()) ? '' : at.toISOString(), value: v, reason, isImpossible },
  ];
  if (system.isRetired) return reject(`${system.name} is retired`, false);
  if (Number.isNaN(at.getTime()) || at.getTime() > now.getTime() + clockToleranceMs)
    return reject('lies in the future', false);
  if (system.keptDays !== null && at.getTime() < now.getTime() - system.keptDays * dayMs)
    return reject(
      `is older than the ${system.keptDays} days for which this site keeps values of probes`,
      false,
    );
  const told = unitOf(quantity, u);
  if ('fault' in told) return reject(told.fault, false);
  const read = { value: told.of(v), unit: told.unit };
  const value = inCanonical(quantity.code, read.value, read.unit, quantity.canonicalUnit);
  if (value === null || value < quantity.possibleLow || value > quantity.possibleHigh)
    return reject(
      `${quantity.name} of ${value === null ? `${read.value} ${read.unit}` : say(quantity, value)} cannot be`,
      true,
    );
  const report = {
    name,
    systemId: system.id,
    quantityCode: quantity.code,
    methodId: method.id,
    kitId: kit.id,
    at,
    value,
    note,
  };
  const entered = { enteredText: String(read.value), enteredUnit: read.unit };
  return [{ ...report, ...entered, uncertainty: uncertaintyOf(value, method) }];
}

function inCanonical(code: string, value: number, unit: string, to: string): number | null {
  try {
    return convert(code, value, unit, to);
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}
