import { eventKinds } from '../../farm/events/kinds.rules.ts';
import { slotLightAt } from '../../farm/light/slot-light.ts';
import type { EventKind } from '../../generated/prisma/enums.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { NOT_THE_FARMS } from '../../stock/losses/causes.rules.ts';
import {
  type ComparedLot,
  type ComparedStay,
  type Comparing,
  firstOfAll,
  type Sign,
} from './members.rules.ts';

/** So many days before the window are read as well: what lots looked like before, and what changed. */
const daysAhead = 60;

const lotQuery = `
  SELECT lot.id, lot.code, kind.name AS kind, coalesce(parent.name, kind.name) AS "group", lot.origin, lot.arrived_at AS "arrivedAt",
         coalesce(mother.code, '') AS mother, cut.at AS "cutAt", coalesce(account.name, '') AS "cutBy"
    FROM lot JOIN kind ON kind.id = lot.kind_id LEFT JOIN kind AS parent ON parent.id = kind.parent_id
    LEFT JOIN lot AS mother ON mother.id = lot.parent_id LEFT JOIN cut ON cut.into_lot_id = lot.id LEFT JOIN account ON account.id = cut.account_id
   WHERE lot.site_id = $1 AND EXISTS (SELECT 1 FROM placement WHERE placement.lot_id = lot.id AND (to_at IS NULL OR to_at > $2))
   ORDER BY lot.code`;

const stayQuery = `
  SELECT placement.lot_id AS "lotId", placement.from_at AS "from", placement.to_at AS "to", first.*, coalesce(account.name, '') AS "movedBy",
         NOT placement.stays AND EXISTS (SELECT 1 FROM placement AS earlier WHERE earlier.lot_id = placement.lot_id AND earlier.from_at < placement.from_at) AS "isMove"
    FROM placement JOIN lot ON lot.id = placement.lot_id AND lot.site_id = $1 LEFT JOIN account ON account.id = placement.account_id
    JOIN LATERAL (
      SELECT slot.id AS "slotId", rack.id AS "rackId", rack.name AS rack, tank.name AS tank, system.id AS "systemId", system.name AS system,
             slot.flow::text AS flow, rack.lamp_id AS "lampId"
        FROM placement_slot JOIN slot ON slot.id = slot_id JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id
        JOIN system ON system.id = tank.system_id
       WHERE placement_id = placement.id ORDER BY rack.id, slot.row, slot."column" LIMIT 1) AS first ON true
   WHERE placement.from_at <= $3 AND (placement.to_at IS NULL OR placement.to_at > $2)
   ORDER BY placement.lot_id, placement.from_at`;

const lookQuery = `
  SELECT * FROM (
    SELECT condition.lot_id AS "lotId", condition.at, condition.state::text AS state FROM condition JOIN lot ON lot.id = condition.lot_id
     WHERE lot.site_id = $1 AND voided_at IS NULL AND condition.at > $2 AND condition.at <= $3
    UNION ALL
    SELECT entry.lot_id, entry.at, 'lost' FROM ledger_entry AS entry JOIN lot ON lot.id = entry.lot_id
     WHERE lot.site_id = $1 AND entry.reason = 'lost' AND entry.voided_at IS NULL AND entry.at > $2 AND entry.at <= $3 AND coalesce(entry.cause, 'unknown') <> ALL ($4::"LossCause"[])
       AND NOT EXISTS (SELECT 1 FROM condition AS look WHERE look.lot_id = entry.lot_id AND look.at = entry.at AND look.state = 'lost' AND look.voided_at IS NOT NULL)
  ) AS seen ORDER BY at, "lotId"`;

const lookedQuery = `
  SELECT lot_look.lot_id AS id FROM lot_look JOIN lot ON lot.id = lot_look.lot_id WHERE lot.site_id = $1 AND lot_look.at > $2`;

const lampQuery = `
  SELECT lamp.id AS "lampId", lamp.name, setting.at, setting.percent FROM lamp_setting AS setting
    JOIN lamp ON lamp.id = setting.lamp_id JOIN tank ON tank.id = lamp.tank_id JOIN system ON system.id = tank.system_id
   WHERE system.site_id = $1 AND setting.at > $2 AND setting.at <= $3
     AND EXISTS (SELECT 1 FROM lamp_setting AS earlier WHERE earlier.lamp_id = lamp.id AND earlier.at < setting.at)
   ORDER BY setting.at`;

const bathQuery = `
  SELECT bathed.lot_id AS "lotId", bath.at, bath.product FROM pest_treatment AS bath JOIN pest_treatment_lot AS bathed ON bathed.treatment_id = bath.id
    JOIN lot ON lot.id = bathed.lot_id WHERE lot.site_id = $1 AND bath.voided_at IS NULL AND bath.at > $2 AND bath.at <= $3 ORDER BY bath.at`;

/** Water changed at once, and things off, from which on they count: as for the alert on one lot. */
const workQuery = `
  SELECT work.* FROM (
    SELECT system_id AS "systemId", at, 'event' AS what, kind::text AS text FROM system_event WHERE voided_at IS NULL
    UNION ALL
    SELECT change.system_id, change.at, 'change', (change.volume_l / system.volume_l)::text FROM water_change AS change
      JOIN system ON system.id = change.system_id WHERE change.voided_at IS NULL AND change.volume_l >= 0.25 * system.volume_l
    UNION ALL
    SELECT system_id, off_at, 'off', what FROM switched_off
     WHERE feeding_id IS NULL AND voided_at IS NULL AND (seen_running_at IS NULL OR seen_running_at > off_at + interval '1 hour')
  ) AS work JOIN system ON system.id = work."systemId" WHERE system.site_id = $1 AND work.at > $2 AND work.at <= $3 ORDER BY work.at`;

/** The kit with which alkalinity was tested last, by system: an own choice of the test that most steers by. */
const kitQuery = `
  SELECT DISTINCT ON (reading.system_id) reading.system_id AS "systemId", kit.label FROM reading
    JOIN system ON system.id = reading.system_id JOIN kit ON kit.id = reading.kit_id
   WHERE system.site_id = $1 AND quantity_code = 'alkalinity' AND reading.voided_at IS NULL AND reading.at > $2 AND reading.at <= $3
   ORDER BY reading.system_id, reading.at DESC`;

const workWords = (what: string, text: string): string => {
  if (what === 'event') return (eventKinds[text as EventKind] ?? text).toLowerCase();
  return what === 'change' ? `${numberWords(100 * Number(text), 0)} % of the water changed` : `${text} off`;
};

/** All that lots of a site are compared by over the last `days`. Ten queries. */
export async function loadComparing(
  reader: SqlReader,
  siteId: string,
  { days, now, sign }: { days: number; now: Date; sign: Sign },
): Promise<Comparing> {
  const since = daysBefore(now, days);
  const ahead = [siteId, daysBefore(since, daysAhead), now];
  const rows = async <Row extends object>(sql: string, values: unknown[] = ahead) =>
    (await reader.query<Row>(sql, values)).rows;
  const [site] = await rows<{ timeZone: string }>('SELECT time_zone AS "timeZone" FROM site WHERE id = $1', [
    siteId,
  ]);
  const lots = await rows<ComparedLot>(lotQuery, ahead.slice(0, 2));
  const stays = await rows<ComparedStay>(stayQuery);
  const looks = await rows<Comparing['looks'][number]>(lookQuery, [...ahead, NOT_THE_FARMS]);
  const looked = await rows<{ id: string }>(lookedQuery, [siteId, since]);
  const works = await rows<{ systemId: string; at: Date; what: string; text: string }>(workQuery);
  const light = new Map<string, number>();
  const first = firstOfAll({ looks, since }, sign);
  if (first !== null) {
    const slots = [...new Set(stays.map(({ slotId }) => slotId))];
    for (const [slotId, { par }] of await slotLightAt(reader, slots, first)) light.set(slotId, par);
  }
  return {
    ...{ since, now, lots, stays, looks, light, timeZone: site?.timeZone ?? 'UTC' },
    lookedAt: new Set(looked.map(({ id }) => id)),
    lamps: await rows(lampQuery),
    baths: await rows(bathQuery),
    works: works.map(({ systemId, at, what, text }) => ({ systemId, at, text: workWords(what, text) })),
    kits: await rows(kitQuery),
  };
}
