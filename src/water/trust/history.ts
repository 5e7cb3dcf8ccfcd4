import type { Tx } from '../../platform/service.ts';
import { daysAfter, daysBefore, daysBetween } from '../../science/numeric/time.ts';
import { mostConfirmDays } from './confirmation.rules.ts';
import type { KeptBand, StoredReading } from './measured.ts';

/** The readings of one quantity in one system around a time, its band, and the change expected since the last of them. */
export interface ReadingHistory {
  past: StoredReading[];
  pending: StoredReading[];
  later: StoredReading[];
  band: KeptBand;
  expectedChange: number;
}

/** So many readings, and so many days back, show how a level usually moves: a month of daily tests, four of weekly ones. */
const readingsBack = 30;
const daysBack = 120;

/** Doses of fewer days than this say no more of a day's use than spread over this many; own choice. */
const leastDosedDays = 7;

interface Row extends StoredReading {
  quantityCode: string;
  trust: string;
}

/** The histories of the given quantities at a time, by code. Four queries, however many quantities. */
export async function loadHistories(
  tx: Tx,
  systemId: string,
  codes: readonly string[],
  at: Date,
): Promise<Map<string, ReadingHistory>> {
  const [before, after, bands] = [
    await loadNearest(tx, systemId, codes, at, 'before'),
    await loadNearest(tx, systemId, codes, at, 'after'),
    await tx.systemQuantity.findMany({ where: { systemId, quantityCode: { in: [...codes] } } }),
  ];
  const lasts = codes.flatMap((code) => {
    const last = before.filter((row) => row.quantityCode === code && isTrusted(row)).at(-1);
    return last === undefined ? [] : [{ code, last }];
  });
  const moved = await loadExpectedChanges(tx, systemId, lasts, at);
  return new Map(
    codes.map((code) => {
      const own = before.filter((row) => row.quantityCode === code);
      const band = bands.find((row) => row.quantityCode === code);
      const history = {
        past: own.filter(isTrusted),
        pending: own.filter((row) => row.trust === 'unconfirmed'),
        later: after.filter((row) => row.quantityCode === code && row.trust !== 'refuted'),
        band: { low: band?.bandLow ?? null, high: band?.bandHigh ?? null, starting: band?.starting ?? false },
        expectedChange: moved.get(code) ?? 0,
      };
      return [code, history];
    }),
  );
}

const isTrusted = (row: Row) => row.trust === 'plain' || row.trust === 'confirmed';

/** The nearest standing readings on one side of a time, oldest first. */
async function loadNearest(
  tx: Tx,
  systemId: string,
  codes: readonly string[],
  at: Date,
  side: 'before' | 'after',
): Promise<Row[]> {
  const back = side === 'before';
  const from = back ? daysBefore(at, daysBack) : at;
  const to = back ? at : daysAfter(at, mostConfirmDays);
  const limit = back ? readingsBack : 2;
  const rows = await tx.$queryRaw<Row[]>`
    SELECT picked.id, picked.quantity_code AS "quantityCode", picked.at, picked.value, picked.below_detection AS below,
           picked.uncertainty, picked.kit_id AS "kitId", picked.method_id AS "methodId", picked.trust::text,
           kit.opened_at AS "kitOpenedAt"
      FROM unnest(${[...codes]}::text[]) AS wanted(code)
      JOIN LATERAL (SELECT * FROM reading
                     WHERE system_id = ${systemId}::uuid AND quantity_code = wanted.code AND voided_at IS NULL
                       AND at > ${from} AND at <= ${to}
                     ORDER BY abs(extract(epoch FROM at - ${at}::timestamptz)), created_at DESC LIMIT ${limit}) AS picked ON true
      LEFT JOIN kit ON kit.id = picked.kit_id`;
  return rows
    .map((row) => ({ ...row, confirmed: row.trust === 'confirmed' }))
    .sort((a, b) => a.at.getTime() - b.at.getTime() || a.id.localeCompare(b.id));
}

/**
 * By how much what was logged since each last reading would move the level: water changes towards the make-up water
 * (where it is known), and doses beyond or short of the usual ones of the thirty days before.
 */
async function loadExpectedChanges(
  tx: Tx,
  systemId: string,
  lasts: readonly { code: string; last: Row }[],
  at: Date,
): Promise<Map<string, number>> {
  if (lasts.length === 0) return new Map();
  const rows = await tx.$queryRaw<
    {
      code: string;
      changes: [fraction: number, makeUp: number | null][] | null;
      dosed: number;
      usual: number;
      usualDays: number;
    }[]
  >`
    SELECT wanted.code,
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
      FROM unnest(${lasts.map((one) => one.code)}::text[], ${lasts.map((one) => one.last.at)}::timestamptz[]) AS wanted(code, since)
      JOIN system ON system.id = ${systemId}::uuid
      LEFT JOIN system_quantity AS target ON target.system_id = system.id AND target.quantity_code = wanted.code`;
  return new Map(
    rows.map(({ code, changes, dosed, usual, usualDays }) => {
      const last = lasts.find((one) => one.code === code)?.last;
      if (last === undefined) return [code, 0];
      const days = daysBetween(last.at, at);
      const level = (changes ?? []).reduce(
        (before, [fraction, makeUp]) => (makeUp === null ? before : before + fraction * (makeUp - before)),
        last.value,
      );
      return [code, level - last.value + dosed - (usual * days) / Math.max(leastDosedDays, usualDays)];
    }),
  );
}
