import { z } from 'zod';
import type { LightEstimate } from '../../farm/light/slot-light.rules.ts';
import { slotLightAt } from '../../farm/light/slot-light.ts';
import { slotName } from '../../farm/racks/slots.rules.ts';
import type { CsvCell } from '../../platform/csv.ts';
import { isoTime } from '../../platform/words/iso-time.ts';
import { fromPlace, keyedList } from './keyed-list.ts';
import type { Ask, ExportedList } from './list.ts';
import { columnTypes } from './worked-out-list.ts';

interface SlotRow {
  id: string;
  rackId: string;
  system: string;
  tank: string;
  rack: string;
  row: number;
  column: number;
  flow: string | null;
  jet: boolean;
  base: string;
  measuredAt: Date | null;
  lot: string | null;
  ownCode: string | null;
}

const rackQuery = `
  SELECT rack.id FROM rack JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id WHERE system.site_id = $1
   ORDER BY system.position, system.name, system.id, tank.position, tank.name, tank.id, rack.position, rack.name, rack.id`;

/** Slots of some racks, rack by rack: those behind a slot of the first. $1 the racks, $2 and $3 row and column, $4 how many. */
const slotQuery = `
  SELECT slot.id, rack.id AS "rackId", system.name AS system, tank.name AS tank, rack.name AS rack, slot.row, slot."column",
         slot.flow, slot.jet, slot.base, light.measured_at AS "measuredAt", lot.code AS lot, lot.own_code AS "ownCode"
    FROM unnest($1::uuid[]) WITH ORDINALITY AS asked(rack_id, nth)
    JOIN rack ON rack.id = asked.rack_id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
   CROSS JOIN LATERAL (
     SELECT * FROM slot WHERE slot.rack_id = asked.rack_id AND slot.row <= rack.rows AND slot."column" <= rack.columns
        AND (slot.row, slot."column") > (CASE WHEN nth = 1 THEN $2::int ELSE 0 END, CASE WHEN nth = 1 THEN $3::int ELSE 0 END)
      ORDER BY slot.row, slot."column" LIMIT $4) AS slot
    LEFT JOIN rack_light_now AS light ON light.rack_id = rack.id
    LEFT JOIN lot_place AS place ON place.slot_id = slot.id LEFT JOIN lot ON lot.id = place.lot_id
   ORDER BY nth, slot.row, slot."column" LIMIT $4`;

const slotPlace = z.strictObject({ rackId: z.uuid(), row: z.int32(), column: z.int32() });
type SlotPlace = z.output<typeof slotPlace>;

const digits = (value: number) => Number(value.toPrecision(6));

const lightHeads = ['light at full (umol/(m2 s))', 'its standard error', 'light a day (mol/(m2 d))'];
const slotHeads = [
  ...['site', 'system', 'tank', 'rack', 'slot', 'flow', 'in a jet', 'base', ...lightHeads],
  ...['measured in the slot', 'scaled since', 'rack measured at', 'lot', 'own code of the lot'],
];

/** Slots behind a place, with their light. Their racks are read first, so that two of one name keep their order. */
async function slotRows({ service, site, now }: Ask, after: SlotPlace | null, limit: number) {
  const { rows: racks } = await service.pool.query<{ id: string }>(rackQuery, [site.id]);
  const asked = fromPlace(racks, after === null ? null : ({ id }) => id === after.rackId);
  const from = [after?.row ?? 0, after?.column ?? 0];
  const { rows } = await service.pool.query<SlotRow>(slotQuery, [asked.map(({ id }) => id), ...from, limit]);
  const ids = rows.map(({ id }) => id);
  const light = await slotLightAt(service.pool, ids, now);
  return rows.map((slot) => ({
    place: { rackId: slot.rackId, row: slot.row, column: slot.column },
    cells: slotCells(slot, light.get(slot.id), site),
  }));
}

function slotCells(slot: SlotRow, known: LightEstimate | undefined, site: Ask['site']): CsvCell[] {
  return [
    ...[site.name, slot.system, slot.tank, slot.rack, slotName(slot), slot.flow, slot.jet ? 'yes' : 'no'],
    ...[slot.base.replaceAll('_', ' ')],
    ...(known === undefined
      ? [null, null, null, null, null]
      : [
          ...[digits(known.par), digits(known.error), known.hoursKnown ? digits(known.dli) : null],
          ...[known.measured ? 'yes' : 'no', known.estimated ? 'yes' : 'no'],
        ]),
    slot.measuredAt === null ? null : isoTime(slot.measuredAt, site.timeZone),
    ...[slot.lot, slot.ownCode],
  ];
}

/** Every slot with its light and its lot. */
export const slotList: ExportedList = keyedList(
  {
    access: 'reader',
    slug: 'slots',
    title: 'Slots with their light',
    what: 'A slot of a rack: flow, base, light now, and the lot in it.',
  },
  columnTypes(slotHeads, {
    numbers: lightHeads,
    times: ['rack measured at'],
    yesOrNo: ['in a jet', 'measured in the slot', 'scaled since'],
  }),
  slotPlace,
  slotRows,
);
