import type { Work } from '../../platform/change.ts';
import { dayMs, minuteMs } from '../../science/numeric/time.ts';
import { convert } from '../../science/units.ts';
import { uncertaintyOf } from '../../water/entry/entry.rules.ts';
import { say } from '../../water/quantities/quantities.ts';
import {
  type ProbeReport,
  type ReportingInstrument,
  saveProbeReports,
} from '../../water/readings/probe-reports.ts';
import { DayCounts } from '../probes/day-counts.ts';
import {
  countByDay,
  noteUnkept,
  type PlacedKit,
  type PlacedName,
  probesNamed,
  type UnkeptName,
} from '../probes/probes.ts';
import { senmlUnits } from '../probes/units.rules.ts';
import { keepWaiting, type WaitingValue } from '../probes/waiting.ts';
import type { ResolvedRecord } from './senml.rules.ts';

/** What became of a pack. */
export interface PackResult {
  taken: number;
  /** Values of an instrument and time that were there already. */
  present: number;
  rejected: { name: string; at: string; value: number; reason: string }[];
  /** Names that stand for nothing yet. A person places them; until then what they report waits, for a week at most. */
  unknown: string[];
}

/** The answer lists at most this many rejected values: enough to see what is wrong; own choice. */
const mostRejectedListed = 100;
/** How far ahead of the service's clock an instrument's may be; own choice. */
const clockToleranceMs = 5 * minuteMs;
/** The furthest time that a Date can be, ms (ECMA-262, 21.4.1.1). */
const furthestTime = 8.64e15;

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
  const known = { byName, instruments: instrumentsKnown(), now: work.now.getTime() };
  const read = packs.map((pack) => readPack(known, pack));
  const saved = await saveProbeReports(
    work,
    read.flatMap(({ reports }) => reports),
  );
  const counts = new DayCounts();
  for (const { instrument, at } of saved) counts.take(instrument.name, at);
  for (const { rejected } of read)
    for (const { name, at, value, isImpossible } of rejected)
      if (isImpossible) counts.reject(name, Date.parse(at), value);
  await countByDay(work, counts.rows());
  await noteUnkept(
    work,
    unkeptOf(
      byName,
      packs.flat(),
      read.flatMap(({ rejected }) => rejected),
    ),
  );
  const isSaved = new Set(saved);
  await keepWaiting(
    work,
    read.flatMap(({ waiting }) => waiting),
  );
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
    rejected: rejected.slice(0, mostRejectedListed).map(({ isImpossible, isOfUnit, ...one }) => one),
  }));
}

/** What is to be remembered of names: a unit that they did not report in before, and how many values are not kept, and why. */
function unkeptOf(
  byName: ReadonlyMap<string, PlacedName>,
  records: readonly ResolvedRecord[],
  rejected: readonly Rejected[],
): UnkeptName[] {
  const wrong = Map.groupBy(
    rejected.filter(({ isOfUnit }) => isOfUnit),
    ({ name }) => name,
  );
  return [...Map.groupBy(records, ({ n }) => n)].flatMap(([name, own]) => {
    const probe = byName.get(name);
    if (probe === undefined) return [];
    const unit = own.at(-1)?.u ?? null;
    const faults = wrong.get(name) ?? [];
    const unkept = probe.kit === null ? own.length : faults.length;
    const isTold = unkept === 0 && probe.unkept === 0 && (unit === null || unit === probe.unit);
    return isTold ? [] : [{ name, unit, unkept, why: faults.at(-1)?.reason ?? '' }];
  });
}

/** What packs are read by. */
interface Known {
  byName: ReadonlyMap<string, PlacedName>;
  instruments: ReturnType<typeof instrumentsKnown>;
  /** Unix time in ms. */
  now: number;
}

function readPack(known: Known, pack: readonly ResolvedRecord[]) {
  const reports: ProbeReport[] = [];
  const rejected: Rejected[] = [];
  const waiting: WaitingValue[] = [];
  const names = new Set<string>();
  for (const record of pack) {
    names.add(record.n);
    const probe = known.byName.get(record.n);
    if (probe === undefined) continue;
    const read = readRecord(probe, record, known);
    if (read === undefined) waiting.push(waitingValue(record));
    else if ('reason' in read) {
      rejected.push(read);
      if (read.isOfUnit) waiting.push(waitingValue(record));
    } else reports.push(read);
  }
  return { reports, rejected, waiting, unknown: [...names].filter((name) => !known.byName.get(name)?.kit) };
}

const waitingValue = ({ n, t, v, u, note = '' }: ResolvedRecord): WaitingValue => ({
  ...{ name: n, ms: Math.round(t * 1000), value: v, unit: u, note },
});

/** How values of a name come in a unit. */
type InUnit = { instrument: ReportingInstrument; of: (value: number) => number } | { fault: string };

/** What a name is in a unit, told once for all values of it. */
function instrumentsKnown() {
  const known = new Map<string, Map<string | null, InUnit>>();
  const unitOf = senmlUnits();
  const inUnit = (name: string, systemId: string, kit: PlacedKit, unit: string | null): InUnit => {
    const { id: methodId, quantity } = kit.method;
    const told = unitOf(quantity, unit);
    if ('fault' in told) return told;
    const instrument = { name, systemId, quantityCode: quantity.code, methodId, kitId: kit.id };
    return { of: told.of, instrument: { ...instrument, enteredUnit: told.unit } };
  };
  return (name: string, systemId: string, kit: PlacedKit, unit: string | null): InUnit => {
    const units = known.get(name) ?? new Map<string | null, InUnit>();
    if (units.size === 0) known.set(name, units);
    const told = units.get(unit) ?? inUnit(name, systemId, kit, unit);
    units.set(unit, told);
    return told;
  };
}

interface Rejected {
  name: string;
  at: string;
  value: number;
  reason: string;
  /** The value cannot be, which says something of the instrument. */
  isImpossible: boolean;
  /** Its unit is none of what the instrument measures. */
  isOfUnit?: boolean;
}

/** @returns undefined where its name stands for nothing yet */
function readRecord(
  { name, system, kit }: PlacedName,
  { t, v, u, note = '' }: ResolvedRecord,
  { instruments, now }: Known,
): ProbeReport | Rejected | undefined {
  if (system === null || kit === null) return undefined;
  const { method } = kit;
  const { quantity } = method;
  const at = Math.round(t * 1000);
  const isTime = Math.abs(at) <= furthestTime;
  const reject = (reason: string, isImpossible: boolean): Rejected => ({
    ...{ name, value: v, reason, isImpossible },
    at: isTime ? new Date(at).toISOString() : '',
  });
  if (system.isRetired) return reject(`${system.name} is retired`, false);
  if (!isTime || at > now + clockToleranceMs) return reject('lies in the future', false);
  if (at < 0) return reject('lies before 1970', false);
  if (system.keptDays !== null && at < now - system.keptDays * dayMs)
    return reject(
      `is older than the ${system.keptDays} days for which this site keeps values of probes`,
      false,
    );
  const told = instruments(name, system.id, kit, u);
  if ('fault' in told) return { ...reject(told.fault, false), isOfUnit: true };
  const { instrument } = told;
  const entered = told.of(v);
  const value = inCanonical(quantity.code, entered, instrument.enteredUnit, quantity.canonicalUnit);
  if (value === null || value < quantity.possibleLow || value > quantity.possibleHigh)
    return reject(
      `${quantity.name} of ${value === null ? `${entered} ${instrument.enteredUnit}` : say(quantity, value)} cannot be`,
      true,
    );
  return {
    instrument,
    at,
    value,
    uncertainty: uncertaintyOf(value, method),
    enteredText: String(entered),
    note,
  };
}

function inCanonical(code: string, value: number, unit: string, to: string): number | null {
  try {
    return convert(code, value, unit, to);
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}
