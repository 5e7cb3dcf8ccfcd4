import { slotLightAt } from '../../farm/light/slot-light.ts';
import { slotName } from '../../farm/racks/slots.rules.ts';
import type { CsvCell } from '../../platform/csv.ts';
import { isoTime } from '../../platform/words/iso-time.ts';
import type { Ask, ExportedList } from './list.ts';
import { columnTypes, workedOutList } from './worked-out-list.ts';

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

const slotQuery = `
  SELECT slot.id, rack.id AS "rackId", system.name AS system, tank.name AS tank, rack.name AS rack, slot.row, slot."column",
         slot.flow, slot.jet, slot.base, light.measured_at AS "measuredAt", lot.code AS lot, lot.own_code AS "ownCode"
    FROM slot JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
    LEFT JOIN rack_light_now AS light ON light.rack_id = rack.id
    LEFT JOIN lot_place AS place ON place.slot_id = slot.id LEFT JOIN lot ON lot.id = place.lot_id
   WHERE system.site_id = $1 AND slot.row <= rack.rows AND slot."column" <= rack.columns
   ORDER BY system.position, system.name, tank.position, tank.name, rack.position, rack.name, rack.id, slot.row, slot."column"`;

/** Racks whose light is worked out at a time. */
const slotsAtOnce = 2_000;

const digits = (value: number) => Number(value.toPrecision(6));

const lightHeads = ['light at full (umol/(m2 s))', 'its standard error', 'light a day (mol/(m2 d))'];
const slotHeads = [
  ...['site', 'system', 'tank', 'rack', 'slot', 'flow', 'in a jet', 'base', ...lightHeads],
  ...['measured in the slot', 'scaled since', 'rack measured at', 'lot', 'own code of the lot'],
];

async function* slotRows({ service, site, now }: Ask): AsyncGenerator<CsvCell[][]> {
  yield [slotHeads];
  const { rows } = await service.pool.query<SlotRow>(slotQuery, [site.id]);
  for (let at = 0; at < rows.length; at += slotsAtOnce) {
    const some = rows.slice(at, at + slotsAtOnce);
    const light = await slotLightAt(
      service.pool,
      some.map(({ id }) => id),
      now,
    );
    yield some.map((slot) => {
      const known = light.get(slot.id);
      return [
        ...[site.name, slot.system, slot.tank, slot.rack, slotName(slot), slot.flow, slot.jet ? 'yes' : 'no'],
        ...[slot.base.replaceAll('_', ' ')],
        ...(known === undefined
          ? [null, null, null, null, null]
          : [
              ...[digits(known.par), digits(known.error), known.hoursKnown ? digits(known.dli) : null],
              ...[known.measured ? 'yes' : 'no', known.estimated ? 'yes' : 'no'],
            ]),
        ...[
          slot.measuredAt === null ? null : isoTime(slot.measuredAt, site.timeZone),
          slot.lot,
          slot.ownCode,
        ],
      ];
    });
  }
}

/** Every slot with its light and its lot. */
export const slotList: ExportedList = workedOutList(
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
  slotRows,
);
