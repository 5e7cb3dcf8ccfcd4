import { readerOf } from '../../platform/database/sql-reader.ts';
import type { Tx } from '../../platform/service.ts';
import { dateAtDay, dayOf, daysAfter, daysBefore, daysBetween } from '../../science/numeric/time.ts';
import type { Quantity } from '../quantities/quantities.ts';
import { mostConfirmDays } from './confirmation.rules.ts';
import type { DoubtedProbe, KeptBand, StoredReading } from './measured.ts';
import { type ProbeDoubt, type ProbeTrace, probeDoubt } from './probe-doubt.rules.ts';
import { probeTraces } from './probe-traces.ts';
import { type StoppedThing, stoppedDays } from './stopped.rules.ts';

/** The readings of one quantity in one system around a time, its band, and the change expected since the last of them. */
export interface ReadingHistory {
  past: StoredReading[];
  pending: StoredReading[];
  later: StoredReading[];
  band: KeptBand;
  expectedChange: number;
  /** The probes that have no vote until they are checked. */
  doubted: DoubtedProbe[];
  /** What stood still lately. */
  stopped: StoppedThing[];
}

/** So many readings, and so many days back, show how a level usually moves: a month of daily tests, four of weekly ones. */
const readingsBack = 30;
const daysBack = 120;

/** Doses of fewer days than this say no more of a day's use than spread over this many; own choice. */
const leastDosedDays = 7;

interface Row extends StoredReading {
  systemId: string;
  quantityCode: string;
  probe: boolean;
  trust: string;
}

/** The histories of the given quantities of one system at a time, by code. */
export const loadHistories = async (
  tx: Tx,
  systemId: string,
  codes: readonly string[],
  at: Date,
): Promise<Map<string, ReadingHistory>> =>
  (await systemHistories(tx, [systemId], codes, at)).get(systemId) ?? new Map();

/**
 * The histories of the given quantities of some systems at a time, by system and code; the values of probes that have no
 * vote are left out. Seven queries, however many systems and quantities.
 */
export async function systemHistories(
  tx: Tx,
  systemIds: readonly string[],
  codes: readonly string[],
  at: Date,
): Promise<Map<string, Map<string, ReadingHistory>>> {
  const [before, after, bands, traces, quantities, stopped] = [
    await loadNearest(tx, systemIds, codes, at, 'before'),
    await loadNearest(tx, systemIds, codes, at, 'after'),
    await tx.systemQuantity.findMany({
      where: { systemId: { in: [...systemIds] }, quantityCode: { in: [...codes] } },
    }),
    await probeTraces(readerOf(tx), systemIds, codes, at),
    await tx.quantity.findMany({ where: { code: { in: [...codes] } } }),
    await loadStopped(tx, systemIds, at),
  ];
  const judged = systemIds.flatMap((systemId) =>
    quantities.map((quantity) => {
      const isOwn = (row: { systemId: string; quantityCode: string }) =>
        row.systemId === systemId && row.quantityCode === quantity.code;
      const own = before.filter(isOwn);
      const probes = traces.filter((trace) => trace.systemId === systemId && trace.code === quantity.code);
      const doubts = doubtsOf(probes, own, quantity, at);
      return {
        systemId,
        code: quantity.code,
        past: withVote(own.filter(isTrusted), doubts),
        doubted: doubts.flatMap(doubtedProbe),
        stopped: stopped.filter((one) => one.systemId === systemId),
        pending: own.filter((row) => row.trust === 'unconfirmed'),
        later: after.filter((row) => isOwn(row) && row.trust !== 'refuted'),
        band: bandOf(bands.find(isOwn)),
      };
    }),
  );
  const lasts = judged.flatMap(({ systemId, code, past }) => {
    const last = past.at(-1);
    return last === undefined ? [] : [{ systemId, code, last }];
  });
  const moved = await loadExpectedChanges(tx, lasts, at);
  return new Map(
    systemIds.map((systemId) => [
      systemId,
      new Map(
        judged
          .filter((one) => one.systemId === systemId)
          .map(({ code, ...history }) => [
            code,
            { ...history, expectedChange: moved.get(`${systemId} ${code}`) ?? 0 },
          ]),
      ),
    ]),
  );
}

const bandOf = (band?: { bandLow: number | null; bandHigh: number | null; starting: boolean }): KeptBand => ({
  low: band?.bandLow ?? null,
  high: band?.bandHigh ?? null,
  starting: band?.starting ?? false,
});

const isTrusted = (row: Row) => row.trust === 'plain' || row.trust === 'confirmed';

/** So many values of a probe that reports by itself, half an hour apart, are a past to judge by. */
const probeValuesBack = 30;

interface JudgedTrace {
  trace: ProbeTrace;
  doubt: ProbeDoubt | null;
}

/** What each probe showed, and why it has no vote where it has none. */
function doubtsOf(
  traces: readonly ProbeTrace[],
  rows: readonly Row[],
  quantity: Quantity,
  at: Date,
): JudgedTrace[] {
  const hands = rows.flatMap(({ probe, trust, below, above, at: testedAt, value, uncertainty }) =>
    probe || below || above || trust === 'refuted' ? [] : [{ day: dayOf(testedAt), value, u: uncertainty }],
  );
  return traces.map((trace) => ({ trace, doubt: probeDoubt(trace, hands, quantity, dayOf(at)) }));
}

const doubtedProbe = ({ trace, doubt }: JudgedTrace): DoubtedProbe[] =>
  doubt === null
    ? []
    : [{ methodId: trace.methodId, kitId: trace.kitId, label: trace.label, words: doubt.words }];

/** The trusted readings with what probes reported by themselves, without the values of probes that have no vote. */
function withVote(trusted: readonly Row[], probes: readonly JudgedTrace[]): StoredReading[] {
  const hasVote = ({ probe, methodId, kitId, at }: Row) => {
    const own = probes.find(({ trace }) => trace.methodId === methodId && trace.kitId === kitId);
    return !probe || own?.doubt == null || dayOf(at) < own.doubt.sinceDay;
  };
  const sent = probes.flatMap(({ trace, doubt }) =>
    trace.selfReporting
      ? trace.samples
          .filter(({ day }) => day < (doubt?.sinceDay ?? Infinity))
          .map((sample) => sentReading(trace, sample))
      : [],
  );
  return inOrder([...trusted.filter(hasVote), ...inOrder(sent).slice(-probeValuesBack)]);
}

const inOrder = (readings: readonly StoredReading[]) =>
  readings.toSorted((a, b) => a.at.getTime() - b.at.getTime());

const sentReading = (
  { methodId, kitId, u }: ProbeTrace,
  { day, value }: ProbeTrace['samples'][number],
): StoredReading => ({
  id: '',
  at: dateAtDay(day),
  value,
  below: false,
  uncertainty: u,
  kitId,
  methodId,
  probe: true,
});

/**
 * The nearest standing readings on one side of a time, oldest first: as many by hand as read off probes. Of what a probe
 * sends by itself there are only the doubted ones.
 */
async function loadNearest(
  tx: Tx,
  systemIds: readonly string[],
  codes: readonly string[],
  at: Date,
  side: 'before' | 'after',
): Promise<Row[]> {
  const back = side === 'before';
  const from = back ? daysBefore(at, daysBack) : at;
  const to = back ? at : daysAfter(at, mostConfirmDays);
  const limit = back ? readingsBack : 2;
  const rows = await tx.$queryRaw<Row[]>`
    SELECT picked.id, picked.system_id AS "systemId", picked.quantity_code AS "quantityCode", picked.at, picked.value, picked.below_detection AS below,
           picked.above_scale AS above, picked.uncertainty, picked.kit_id AS "kitId", picked.method_id AS "methodId", picked.trust::text,
           picked.probe, kit.opened_at AS "kitOpenedAt"
      FROM unnest(${[...systemIds]}::text[]) AS asked(system_id) CROSS JOIN unnest(${[...codes]}::text[]) AS wanted(code)
      CROSS JOIN (VALUES (false), (true)) AS kind(probe)
      JOIN LATERAL (SELECT reading.*, kind.probe FROM reading LEFT JOIN method ON method.id = reading.method_id
                     WHERE reading.system_id = asked.system_id::uuid AND reading.quantity_code = wanted.code AND voided_at IS NULL
                       AND at > ${from} AND at <= ${to}
                       AND coalesce(method.is_probe OR method.every_minutes IS NOT NULL, false) = kind.probe
                       AND (method.every_minutes IS NULL OR reading.trust = 'unconfirmed')
                     ORDER BY abs(extract(epoch FROM at - ${at}::timestamptz)), created_at DESC LIMIT ${limit}) AS picked ON true
      LEFT JOIN kit ON kit.id = picked.kit_id`;
  return rows
    .map((row) => ({ ...row, confirmed: row.trust === 'confirmed' }))
    .sort((a, b) => a.at.getTime() - b.at.getTime() || a.id.localeCompare(b.id));
}

/** What of these systems stood still within two days before a time, switched off or (pumps and air) noted as faulty. */
const loadStopped = (
  tx: Tx,
  systemIds: readonly string[],
  at: Date,
): Promise<(StoppedThing & { systemId: string })[]> => tx.$queryRaw`
    SELECT off.system_id AS "systemId", off.thing::text, off.what, off.off_at AS "from", off.seen_running_at AS until,
           equipment.strength_code AS doses
      FROM switched_off AS off LEFT JOIN equipment ON equipment.id = off.equipment_id
     WHERE off.system_id::text = ANY(${[...systemIds]}::text[]) AND off.voided_at IS NULL AND off.off_at < ${at}
       AND (off.seen_running_at IS NULL OR off.seen_running_at > ${daysBefore(at, stoppedDays)})
    UNION ALL
    SELECT fault.system_id, CASE equipment.kind WHEN 'air_pump' THEN 'air' ELSE equipment.kind::text END, equipment.name,
           fault.noted_at, fault.mended_at, NULL
      FROM fault JOIN equipment ON equipment.id = fault.equipment_id AND equipment.kind IN ('return_pump', 'wave_pump', 'air_pump')
     WHERE fault.system_id::text = ANY(${[...systemIds]}::text[]) AND fault.noted_at < ${at} AND fault.left_out IS NULL
       AND (fault.mended_at IS NULL OR fault.mended_at > ${daysBefore(at, stoppedDays)})
     ORDER BY 4`;

/**
 * By how much what was logged since each last reading would move the level: water changes towards the make-up water
 * (where it is known), and doses beyond or short of the usual ones of the thirty days before.
 */
async function loadExpectedChanges(
  tx: Tx,
  lasts: readonly { systemId: string; code: string; last: StoredReading }[],
  at: Date,
): Promise<Map<string, number>> {
  if (lasts.length === 0) return new Map();
  const rows = await tx.$queryRaw<
    {
      systemId: string;
      code: string;
      changes: [fraction: number, makeUp: number | null][] | null;
      dosed: number;
      usual: number;
      usualDays: number;
    }[]
  >`
    SELECT wanted.system_id AS "systemId", wanted.code,
           (SELECT json_agg(json_build_array(least(1, change.volume_l / system.volume_l), coalesce((change.make_up->>wanted.code)::float8, target.make_up)) ORDER BY change.at)
              FROM water_change AS change
             WHERE change.system_id = system.id AND change.voided_at IS NULL AND change.at > wanted.since AND change.at <= ${at}) AS changes,
           (SELECT coalesce(sum(effect), 0) FROM dose WHERE dose.system_id = system.id AND dose.quantity_code = wanted.code
              AND voided_at IS NULL AND dose.at > wanted.since AND dose.at <= ${at}) AS dosed,
           (SELECT coalesce(sum(effect), 0) FROM dose WHERE dose.system_id = system.id AND dose.quantity_code = wanted.code
              AND voided_at IS NULL AND dose.at > wanted.since - interval '30 days' AND dose.at <= wanted.since) AS usual,
           (SELECT coalesce(extract(epoch FROM wanted.since - min(dose.at))::float8 / 86400, 0) FROM dose WHERE dose.system_id = system.id
              AND dose.quantity_code = wanted.code AND voided_at IS NULL AND dose.at > wanted.since - interval '30 days'
              AND dose.at <= wanted.since) AS "usualDays"
      FROM unnest(${lasts.map((one) => one.systemId)}::text[], ${lasts.map((one) => one.code)}::text[], ${lasts.map((one) => one.last.at)}::timestamptz[]) AS wanted(system_id, code, since)
      JOIN system ON system.id = wanted.system_id::uuid
      LEFT JOIN system_quantity AS target ON target.system_id = system.id AND target.quantity_code = wanted.code`;
  return new Map(
    rows.map(({ systemId, code, changes, dosed, usual, usualDays }) => {
      const key = `${systemId} ${code}`;
      const last = lasts.find((one) => `${one.systemId} ${one.code}` === key)?.last;
      if (last === undefined) return [key, 0];
      const days = daysBetween(last.at, at);
      const level = (changes ?? []).reduce(
        (before, [fraction, makeUp]) => (makeUp === null ? before : before + fraction * (makeUp - before)),
        last.value,
      );
      return [key, level - last.value + dosed - (usual * days) / Math.max(leastDosedDays, usualDays)];
    }),
  );
}
