import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { dayMs } from '../../science/numeric/time.ts';
import { NOT_THE_FARMS } from './causes.rules.ts';
import type { LossHistory } from './usual.rules.ts';

// A lot that died stood where its last placement was. What was taken back (its look is void) is no loss.
// Nobody watched a lot before it was entered: days before that are not days without a loss.
// The stays of a kind in a system come as one list: a row for each stay took longer to take in than to find.
const stayQuery = `
  WITH stood AS MATERIALIZED (
    SELECT DISTINCT held.placement_id, tank.system_id
      FROM tank
      JOIN rack ON rack.tank_id = tank.id
      JOIN slot ON slot.rack_id = rack.id
      JOIN placement_slot AS held ON held.slot_id = slot.id AND (held.to_at IS NULL OR held.to_at > $2)
     WHERE tank.system_id = ANY($1)),
  by_kind AS (
    SELECT stood.system_id, lot.kind_id,
           string_agg(lot.id || ' ' || lot.code || ' ' || date_part('epoch', greatest(placement.from_at, lot.created_at)) || coalesce(' ' || date_part('epoch', placement.to_at), ''), ','
             ORDER BY placement.from_at, placement.id) AS stays
      FROM stood
      JOIN placement ON placement.id = stood.placement_id AND placement.from_at <= $3
      JOIN lot ON lot.id = placement.lot_id AND (placement.to_at IS NULL OR placement.to_at > lot.created_at)
     GROUP BY stood.system_id, lot.kind_id)
  SELECT by_kind.system_id AS "systemId", kind.id AS "kindId", kind.name AS "kindName", by_kind.stays
    FROM by_kind JOIN kind ON kind.id = by_kind.kind_id ORDER BY kind.name, kind.id`;

interface StayRow {
  systemId: string;
  kindId: string;
  kindName: string;
  /** The id and code of a lot, and from when to when it stood there, seconds since 1970. */
  stays: string;
}

const staysOf = ({ kindId, kindName, stays }: StayRow): LossHistory['stays'] =>
  stays.split(',').map((stay) => {
    const [lotId = '', code = '', from, to] = stay.split(' ');
    return {
      ...{ lotId, code, kindId, kindName },
      ...{ fromDay: Number(from) / daySeconds, toDay: to === undefined ? null : Number(to) / daySeconds },
    };
  });

const daySeconds = dayMs / 1000;

const deathQuery = `
  SELECT place.system_id AS "systemId", entry.id, entry.lot_id AS "lotId", date_part('epoch', entry.at) / 86400 AS day, -entry.change AS pieces
    FROM ledger_entry AS entry
   CROSS JOIN LATERAL (
     SELECT tank.system_id FROM placement
       JOIN placement_slot ON placement_slot.placement_id = placement.id JOIN slot ON slot.id = placement_slot.slot_id
       JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id
      WHERE placement.lot_id = entry.lot_id AND placement.from_at <= entry.at AND (placement.to_at IS NULL OR placement.to_at >= entry.at)
      ORDER BY placement.from_at DESC LIMIT 1) AS place
   WHERE entry.reason = 'lost' AND entry.voided_at IS NULL AND entry.at > $2 AND entry.at <= $3 AND place.system_id = ANY($1)
     AND coalesce(entry.cause, 'unknown') <> ALL ($4::"LossCause"[])
     AND NOT EXISTS (SELECT 1 FROM condition AS look WHERE look.lot_id = entry.lot_id AND look.at = entry.at AND look.state = 'lost' AND look.voided_at IS NOT NULL)
   ORDER BY entry.at, entry.id`;

type Death = LossHistory['deaths'][number];

async function deathsSince(
  reader: SqlReader,
  systemIds: readonly string[],
  { since, now }: { since: Date; now: Date },
): Promise<Map<string, Death[]>> {
  const values = [systemIds, since, now, NOT_THE_FARMS];
  const { rows } = await reader.query<Death & { systemId: string }>(deathQuery, values);
  return Map.groupBy(rows, ({ systemId }) => systemId);
}

/** Which lots stood in each system when, and which of them lost pieces since `since`; by system. Two queries. */
export async function lossHistories(
  reader: SqlReader,
  systemIds: readonly string[],
  { since, now }: { since: Date; now: Date },
): Promise<Map<string, LossHistory>> {
  const stays = await reader.query<StayRow>(stayQuery, [systemIds, since, now]);
  const deathsOf = await deathsSince(reader, systemIds, { since, now });
  return new Map(
    [...Map.groupBy(stays.rows, ({ systemId }) => systemId)].map(([id, own]) => [
      id,
      { stays: own.flatMap(staysOf), deaths: deathsOf.get(id) ?? [] },
    ]),
  );
}
