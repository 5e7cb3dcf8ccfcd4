import type { Work } from '../../platform/change.ts';
import { minuteMs } from '../../science/numeric/time.ts';
import { convert } from '../../science/units.ts';
import { uncertaintyOf } from '../../water/entry/entry.rules.ts';
import { say } from '../../water/quantities/quantities.ts';
import { type ProbeReport, saveProbeReports } from '../../water/readings/probe-reports.ts';
import { countByDay, lockProbeNames, type ProbeName, rememberNames } from '../probes/probes.ts';
import type { ResolvedRecord } from './senml.rules.ts';
import { senmlValue } from './units.rules.ts';

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
  const names = [...new Set(records.map((one) => one.n))];
  await rememberNames(work, names);
  const byName = await lockProbeNames(work, names);
  const unknown = names.filter((name) => !byName.get(name)?.kit);
  const read = records.flatMap((record) => {
    const probe = byName.get(record.n);
    return probe === undefined ? [] : readRecord(probe, record, work.now);
  });
  const reports = read.filter((one): one is ProbeReport => !('reason' in one));
  const rejected = read.filter((one) => 'reason' in one);
  const saved = await saveProbeReports(work, reports);
  await countByDay(work, [
    ...saved.map(({ name, at }) => ({ name, at: at.toISOString(), impossible: null })),
    ...rejected
      .filter(({ isImpossible }) => isImpossible)
      .map(({ name, at, value }) => ({ name, at, impossible: value })),
  ]);
  const taken = saved.length;
  const counts = {
    taken,
    present: reports.length - taken,
    rejected: rejected.length,
    unknown: unknown.length,
  };
  work.record('probes.reported', { type: 'site', id: siteId }, counts);
  return {
    taken,
    present: counts.present,
    rejected: rejected.slice(0, mostRejectedListed).map(({ isImpossible, ...one }) => one),
    unknown,
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
  { name, system, kit }: ProbeName,
  { t, v, u, note = '' }: ResolvedRecord,
  now: Date,
): (ProbeReport | Rejected)[] {
  if (system === null || kit === null) return [];
  const { method } = kit;
  const { quantity } = method;
  const at = new Date(Math.round(t * 1000));
  const reject = (reason: string, isImpossible: boolean): Rejected[] => [
    { name, at: Number.isNaN(at.getTime()) ? '' : at.toISOString(), value: v, reason, isImpossible },
  ];
  if (system.retiredAt !== null) return reject(`${system.name} is retired`, false);
  if (Number.isNaN(at.getTime()) || at.getTime() > now.getTime() + clockToleranceMs)
    return reject('lies in the future', false);
  const read = senmlValue(quantity, v, u);
  if ('fault' in read) return reject(read.fault, false);
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
