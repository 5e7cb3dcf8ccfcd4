import { slotLightAt } from '../../farm/light/slot-light.ts';
import { slotName } from '../../farm/racks/slots.rules.ts';
import type { CsvCell } from '../../platform/csv.ts';
import { isoTime } from '../../platform/words/iso-time.ts';
import { inputAmount, priceOf } from '../../platform/words/money.ts';
import { isReady, lotReadiness } from '../../stock/sales/readiness.ts';
import { pageOfQuery } from './keyed-sql.ts';
import type { Ask, ExportedList, ListPage, ListWords, PageAsked } from './list.ts';
import { orderLists } from './order-lists.ts';
import { sqlList } from './sql-list.ts';
import { columnTypes, workedOutList } from './worked-out-list.ts';

interface LotRow {
  code: string;
  ownCode: string;
  name: string;
  kind: string;
  identified: string | null;
  pieces: number;
  held: number;
  system: string | null;
  rack: string | null;
  slots: string | null;
  mother: string | null;
  isMother: boolean;
  sizeMm: number | null;
  receivedAt: Date;
  origin: string;
  permit: string;
  priceMinor: number | null;
  note: string;
}

/** A rack is named by its tank where two have one name, as the reader of files does. */
const lotQuery = `
  WITH named AS (
    SELECT rack.id, CASE WHEN count(*) OVER (PARTITION BY lower(rack.name)) = 1 THEN rack.name ELSE tank.name || ' ' || rack.name END AS name,
           system.name AS system
      FROM rack JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id WHERE system.site_id = $1),
  placed AS (
    SELECT lot_id, min(named.system) AS system, string_agg(DISTINCT named.name, '; ') AS rack,
           string_agg(slot_name, ' ' ORDER BY row, "column") AS slots
      FROM lot_place JOIN named ON named.id = lot_place.rack_id GROUP BY lot_id),
  held AS (SELECT lot_id, sum(pieces)::int AS pieces FROM hold WHERE released_at IS NULL GROUP BY lot_id)
  SELECT lot.code, lot.own_code AS "ownCode", lot.trade_name AS name, kind.name AS kind,
         (SELECT trim(scientific_name || ' ' || identification_qualifier) FROM identification WHERE lot_id = lot.id
           ORDER BY date_identified DESC, created_at DESC LIMIT 1) AS identified,
         lot.pieces, coalesce(held.pieces, 0) AS held, placed.system, placed.rack, placed.slots,
         coalesce(nullif(mother.own_code, ''), mother.code) AS mother, lot.is_mother AS "isMother", lot.size_mm AS "sizeMm",
         lot.arrived_at AS "receivedAt", lot.origin, lot.permit, lot.price_minor AS "priceMinor", lot.note
    FROM lot JOIN kind ON kind.id = lot.kind_id
    LEFT JOIN lot AS mother ON mother.id = lot.parent_id
    LEFT JOIN placed ON placed.lot_id = lot.id
    LEFT JOIN held ON held.lot_id = lot.id
   WHERE lot.site_id = $1 AND (lot.pieces > 0) = $2
   ORDER BY kind.name, lot.own_code, lot.code`;

/** The columns that the reader of stock files takes, and what else the list of stock shows. */
const lotHeads = (price: string): string[] => [
  ...[
    'Evenwater code',
    'own code',
    'name',
    'kind',
    'identified as',
    'pieces',
    'pieces held',
    'site',
    'system',
  ],
  ...['rack', 'slots', 'mother', 'is mother', 'size (mm)', 'received', 'origin', 'permit', price, 'note'],
];

function lotCells(lot: LotRow, { site }: Ask): CsvCell[] {
  const money = priceOf(lot.priceMinor, site.currency);
  return [
    ...[
      lot.code,
      lot.ownCode,
      lot.name,
      lot.kind,
      lot.identified,
      lot.pieces,
      lot.held,
      site.name,
      lot.system,
    ],
    ...[lot.rack, lot.slots, lot.mother, lot.isMother ? 'yes' : '', lot.sizeMm],
    ...[isoTime(lot.receivedAt, site.timeZone), lot.origin, lot.permit],
    ...[money === null ? null : Number(inputAmount(money)), lot.note],
  ];
}

async function* lotRows(ask: Ask, alive: boolean): AsyncGenerator<CsvCell[][]> {
  const { service, site } = ask;
  yield [lotHeads(site.currency === null ? 'price' : `price (${site.currency})`)];
  const { rows } = await service.pool.query<LotRow>(lotQuery, [site.id, alive]);
  yield rows.map((lot) => lotCells(lot, ask));
}

/** The same columns, with the currency in one of its own, so that no name depends on the site. */
const lotColumns = columnTypes([...lotHeads('price'), 'currency'], {
  numbers: ['pieces', 'pieces held', 'size (mm)', 'price'],
  times: ['received'],
});

async function lotPage(ask: Ask, alive: boolean, asked: PageAsked): Promise<ListPage> {
  const { service, site } = ask;
  const { rows, next } = await pageOfQuery<LotRow>(service.pool, lotQuery, [site.id, alive], asked);
  const cells = rows.map((lot) => [...lotCells(lot, ask), lot.priceMinor === null ? null : site.currency]);
  return { columns: lotColumns, rows: cells, next };
}

const lotList = (words: ListWords, alive: boolean): ExportedList => ({
  ...words,
  rows: (ask) => lotRows(ask, alive),
  columns: async () => lotColumns,
  page: (ask, asked) => lotPage(ask, alive, asked),
});

const readyHeads = [
  ...['code', 'own code', 'trade name', 'kind', 'site', 'system', 'place', 'pieces', 'held', 'free'],
  ...['size (mm)', 'price', 'currency', 'ready', 'why not'],
];

async function* readyRows({ service, site, now }: Ask): AsyncGenerator<CsvCell[][]> {
  yield [readyHeads];
  const lots = await lotReadiness(service.pool, { siteId: site.id, timeZone: site.timeZone }, now);
  yield lots.map((lot) => [
    ...[lot.code, lot.ownCode, lot.tradeName, lot.kind, site.name, lot.systemName, lot.place],
    ...[lot.pieces, lot.held, lot.pieces - lot.held, lot.sizeMm],
    ...[lot.price === null ? null : Number(inputAmount(lot.price)), lot.price?.currency ?? null],
    ...[isReady(lot) ? 'yes' : 'no', lot.reasons.map(({ text }) => text).join('; ')],
  ]);
}

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

const reader = { access: 'reader' } as const;

/** Lots and what they stand on, are sold by and are known of. */
export const stockLists: ExportedList[] = [
  lotList(
    {
      ...reader,
      slug: 'stock',
      title: 'Stock',
      what: 'A lot that has pieces. “Stock from a file” reads it.',
    },
    true,
  ),
  lotList(
    { ...reader, slug: 'gone', title: 'Lots without pieces', what: 'A lot of which nothing is left.' },
    false,
  ),
  workedOutList(
    {
      ...reader,
      slug: 'ready',
      title: 'Ready to sell',
      what: 'A lot, whether it can be sold, and what speaks against it.',
    },
    columnTypes(readyHeads, {
      numbers: ['pieces', 'held', 'free', 'size (mm)', 'price'],
      yesOrNo: ['ready'],
    }),
    readyRows,
  ),
  workedOutList(
    {
      ...reader,
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
  ),
  sqlList(
    { ...reader, slug: 'racks', title: 'Racks', what: 'A rack: size, place, lamps, and what is on it.' },
    `WITH standing AS (
       SELECT rack_id, lot_id, count(*)::int AS slots FROM lot_place GROUP BY rack_id, lot_id),
     held AS (
       SELECT rack_id, count(*)::int AS lots, sum(lot.pieces)::int AS pieces, sum(slots)::int AS slots
         FROM standing JOIN lot ON lot.id = standing.lot_id GROUP BY rack_id)
     SELECT site.name AS site, system.name AS system, tank.name AS tank, rack.name AS rack, rack.rows, rack.columns,
            rack.depth_mm AS "depth (mm)", rack.slope_deg AS "slope (degrees)", rack.left_mm AS "from the left (mm)",
            rack.back_mm AS "from the back (mm)", rack.slot_width_mm AS "width of a slot (mm)",
            rack.slot_depth_mm AS "depth of a slot (mm)", lamp.name AS lamps, coalesce(held.lots, 0) AS lots,
            coalesce(held.pieces, 0) AS pieces, coalesce(held.slots, 0) AS "slots taken",
            rack.rows * rack.columns - coalesce(held.slots, 0) AS "slots free", light.measured_at AS "light measured at", rack.note
       FROM rack JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id JOIN site ON site.id = system.site_id
       LEFT JOIN lamp ON lamp.id = rack.lamp_id LEFT JOIN held ON held.rack_id = rack.id
       LEFT JOIN rack_light_now AS light ON light.rack_id = rack.id
      WHERE site.id = $1
      ORDER BY system.position, system.name, tank.position, tank.name, rack.position, rack.name`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'kinds',
      title: 'Kinds with their care',
      what: 'A figure of care of a kind, with where it comes from; a kind without figures has one row.',
    },
    `SELECT kind.code, kind.name AS kind, kind.rank, parent.name AS "care group", array_to_string(kind.also_called, '; ') AS "also called",
            figure.figure, figure.low, figure.high, figure.words, replace(figure.basis::text, '_', ' ') AS basis, figure.source, kind.note
       FROM kind LEFT JOIN kind AS parent ON parent.id = kind.parent_id LEFT JOIN care_figure AS figure ON figure.kind_id = kind.id
      ORDER BY coalesce(parent.name, kind.name), kind.rank, kind.name, figure.figure`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'origins',
      title: 'Suppliers and origins',
      what: 'Where lots came from, with their permit, and how many.',
    },
    `SELECT site.name AS site, lot.origin, lot.permit, count(*)::int AS lots, sum(lot.pieces)::int AS "pieces now",
            min(lot.arrived_at) AS "first received", max(lot.arrived_at) AS "last received"
       FROM lot JOIN site ON site.id = lot.site_id WHERE site.id = $1 AND (lot.origin <> '' OR lot.permit <> '')
      GROUP BY site.name, lot.origin, lot.permit ORDER BY lot.origin, lot.permit`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'holds',
      title: 'Holds',
      what: 'Pieces kept back for a buyer, and those released again.',
    },
    `SELECT site.name AS site, place.system, lot.code AS lot, lot.own_code AS "own code", hold.pieces, hold.buyer, hold.until::text AS until, hold.note,
            hold.created_at AS "held at", account.name AS "held by", hold.released_at AS "released at", hold.release_reason AS "why released"
       FROM hold JOIN lot ON lot.id = hold.lot_id JOIN site ON site.id = lot.site_id LEFT JOIN account ON account.id = hold.account_id
       LEFT JOIN LATERAL (SELECT min(system_name) AS system FROM lot_place WHERE lot_id = lot.id) AS place ON true
      WHERE site.id = $1 ORDER BY hold.created_at, hold.id`,
  ),
  ...orderLists,
  sqlList(
    {
      ...reader,
      slug: 'counts',
      title: 'Changes of counts',
      what: 'Pieces received, cut, lost or sold: the ledger of the lots.',
    },
    `SELECT site.name AS site, lot.code AS lot, lot.own_code AS "own code", entry.at, entry.change, replace(entry.reason::text, '_', ' ') AS reason,
            replace(entry.cause::text, '_', ' ') AS cause, entry.note, account.name AS by, entry.created_at AS "entered at",
            entry.voided_at AS "voided at", entry.void_reason AS "why voided"
       FROM ledger_entry AS entry JOIN lot ON lot.id = entry.lot_id JOIN site ON site.id = lot.site_id
       LEFT JOIN account ON account.id = entry.account_id WHERE site.id = $1 ORDER BY entry.at, entry.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'deliveries',
      title: 'Deliveries',
      what: 'A lot of a delivery: ordered, invoiced, counted, and what arrived dead.',
    },
    `SELECT site.name AS site, delivery.supplier, delivery.came_at AS came, delivery.hours AS "hours under way", delivery.box_deg_c AS "box (degC)",
            delivery.box_salinity AS "salinity of the box", line.name AS "as listed", lot.code AS lot, kind.name AS kind, line.ordered, line.invoiced,
            line.counted, line.arrived_dead AS "arrived dead", line.light_known AS "light before", line.light_par AS "light before (umol/(m2 s))",
            delivery.claim_hours AS "claim within (h)", delivery.claimed_at AS "claimed at", delivery.claim_note AS claim, delivery.claim_result AS result,
            delivery.note, account.name AS "taken in by", delivery.voided_at AS "taken back at", delivery.void_reason AS "why taken back"
       FROM delivery JOIN site ON site.id = delivery.site_id JOIN delivery_line AS line ON line.delivery_id = delivery.id
       LEFT JOIN lot ON lot.id = line.lot_id LEFT JOIN kind ON kind.id = lot.kind_id LEFT JOIN account ON account.id = delivery.account_id
      WHERE site.id = $1 ORDER BY delivery.came_at, delivery.id, line.position`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'stocktakes',
      title: 'Stocktakes',
      what: 'A lot on a rack in a stocktake: counted, recorded, and what the difference was.',
    },
    `SELECT site.name AS site, taken.name AS stocktake, taken.started_at AS "begun at", taken.closed_at AS "closed at", system.name AS system, tank.name AS tank, rack.name AS rack,
            lot.code AS lot, lot.own_code AS "own code", kind.name AS kind, line.found_as AS "found as", counted.pieces AS counted,
            CASE WHEN taken.closed_at IS NULL AND taken.hidden AND line.settled_at IS NULL THEN NULL ELSE counted.expected END AS recorded,
            counted.at AS "counted at", account.name AS "counted by", counted.times AS "times counted", line.reason AS difference, line.note, settler.name AS "settled by", line.settled_at AS "settled at"
       FROM stocktake AS taken JOIN site ON site.id = taken.site_id JOIN stocktake_line AS line ON line.stocktake_id = taken.id
       JOIN rack ON rack.id = line.rack_id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
       LEFT JOIN lot ON lot.id = line.lot_id LEFT JOIN kind ON kind.id = lot.kind_id LEFT JOIN account AS settler ON settler.id = line.settled_by_id
       LEFT JOIN LATERAL (SELECT one.pieces, one.expected, one.at, one.account_id, count(*) OVER ()::int AS times FROM stocktake_count AS one
                           WHERE one.line_id = line.id AND one.voided_at IS NULL ORDER BY one.at DESC, one.id DESC LIMIT 1) AS counted ON true
       LEFT JOIN account ON account.id = counted.account_id
      WHERE site.id = $1 ORDER BY taken.started_at, taken.id, system.position, tank.position, rack.position, lot.code, line.id`,
  ),
  sqlList(
    { ...reader, slug: 'losses', title: 'Losses', what: 'Pieces lost, why, and where the lot was then.' },
    `SELECT site.name AS site, place.system, place.rack, lot.code AS lot, lot.own_code AS "own code", kind.name AS kind, lot.origin, entry.at,
            -entry.change AS pieces, replace(coalesce(entry.cause, 'unknown')::text, '_', ' ') AS cause, entry.note, account.name AS by
       FROM ledger_entry AS entry JOIN lot ON lot.id = entry.lot_id JOIN site ON site.id = lot.site_id JOIN kind ON kind.id = lot.kind_id
       LEFT JOIN account ON account.id = entry.account_id
       LEFT JOIN LATERAL (
         SELECT min(system.name) AS system, min(rack.name) AS rack
           FROM placement JOIN placement_slot ON placement_slot.placement_id = placement.id JOIN slot ON slot.id = placement_slot.slot_id
           JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
          WHERE placement.lot_id = lot.id AND placement.from_at <= entry.at AND (placement.to_at IS NULL OR placement.to_at >= entry.at)
          GROUP BY placement.id, placement.from_at ORDER BY placement.from_at DESC LIMIT 1) AS place ON true
      WHERE site.id = $1 AND entry.reason = 'lost' AND entry.voided_at IS NULL ORDER BY entry.at, entry.id`,
  ),
  sqlList(
    { ...reader, slug: 'conditions', title: 'How lots looked', what: 'A look at a lot, and what was seen.' },
    `SELECT site.name AS site, lot.code AS lot, lot.own_code AS "own code", seen.at, replace(seen.state::text, '_', ' ') AS seen, seen.grade,
            seen.note, account.name AS by, seen.voided_at AS "voided at", seen.void_reason AS "why voided"
       FROM condition AS seen JOIN lot ON lot.id = seen.lot_id JOIN site ON site.id = lot.site_id
       LEFT JOIN account ON account.id = seen.account_id WHERE site.id = $1 ORDER BY seen.at, seen.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'placements',
      title: 'Where lots were',
      what: 'A lot at a place, from when to when.',
    },
    `SELECT site.name AS site, system.name AS system, tank.name AS tank, rack.name AS rack, lot.code AS lot, lot.own_code AS "own code",
            string_agg(chr(64 + slot.row) || slot."column", ' ' ORDER BY slot.row, slot."column") AS slots,
            placement.from_at AS from, placement.to_at AS until, placement.reason, account.name AS by
       FROM placement JOIN lot ON lot.id = placement.lot_id JOIN site ON site.id = lot.site_id
       JOIN placement_slot AS held ON held.placement_id = placement.id JOIN slot ON slot.id = held.slot_id
       JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
       LEFT JOIN account ON account.id = placement.account_id
      WHERE site.id = $1
      GROUP BY site.id, system.id, tank.id, rack.id, lot.id, placement.id, account.id ORDER BY placement.from_at, placement.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'acclimations',
      title: 'Plans of light',
      what: 'A step of a plan by which lots get used to other light.',
    },
    `SELECT site.name AS site, plan.name AS plan, plan.purpose, plan.from_dli AS "from (mol/(m2 d))", plan.target_dli AS "to (mol/(m2 d))",
            plan.starts_on::text AS "starts on", plan.paused_at AS "paused at", plan.ended_at AS "ended at", plan.end_reason AS "why ended",
            step.position AS step, step.due_on::text AS "due on", step.dli AS "light a day (mol/(m2 d))", lot.code AS lot, lamp.name AS lamps,
            step.percent AS "lamps (per cent)", step.done_at AS "done at", account.name AS "done by", step.left_out_at AS "left out at", step.note
       FROM acclimation AS plan JOIN site ON site.id = plan.site_id JOIN acclimation_step AS step ON step.acclimation_id = plan.id
       LEFT JOIN lot ON lot.id = step.lot_id LEFT JOIN lamp ON lamp.id = step.lamp_id LEFT JOIN account ON account.id = step.done_by_id
      WHERE site.id = $1 ORDER BY plan.created_at, plan.id, step.position, step.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'moves',
      title: 'Plans of moves',
      what: 'A move of a plan: which lot, why, and whether it was done.',
    },
    `SELECT site.name AS site, plan.name AS plan, plan.created_at AS "planned at", plan.ended_at AS "ended at", move.position AS step, lot.code AS lot,
            lot.own_code AS "own code", target.place, move.why, move.done_at AS "done at", account.name AS "done by",
            move.left_out_at AS "left out at", move.note
       FROM move_plan AS plan JOIN site ON site.id = plan.site_id JOIN planned_move AS move ON move.plan_id = plan.id
       JOIN lot ON lot.id = move.lot_id LEFT JOIN account ON account.id = move.done_by_id
       LEFT JOIN LATERAL (
         SELECT string_agg(rack.name || ' ' || chr(64 + slot.row) || slot."column", ', ' ORDER BY slot.row, slot."column") AS place
           FROM slot JOIN rack ON rack.id = slot.rack_id WHERE slot.id = ANY (move.slot_ids)) AS target ON true
      WHERE site.id = $1 ORDER BY plan.created_at, plan.id, move.position`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'photos',
      title: 'Photographs',
      what: 'A photograph of a lot; the pictures are in the whole farm.',
    },
    `SELECT site.name AS site, lot.code AS lot, lot.own_code AS "own code", photo.id AS photo, photo.taken_at AS "taken at",
            photo.width AS "width (pixels)", photo.height AS "height (pixels)", photo.note, account.name AS by,
            photo.voided_at AS "voided at", photo.void_reason AS "why voided"
       FROM photo JOIN lot ON lot.id = photo.lot_id JOIN site ON site.id = lot.site_id
       LEFT JOIN account ON account.id = photo.account_id WHERE site.id = $1 ORDER BY photo.taken_at, photo.id`,
  ),
  sqlList(
    {
      ...reader,
      slug: 'files',
      title: 'Attached files',
      what: 'A permit, invoice or certificate, and what it is kept with.',
    },
    `SELECT site.name AS site, system.name AS system, equipment.name AS equipment, delivery.supplier AS "delivery from", lot.code AS lot, lot.own_code AS "own code",
            file.id AS file, file.name, file.what, file.kind AS "media type", file.bytes AS "size (bytes)", file.created_at AS "attached at",
            account.name AS by, file.voided_at AS "removed at", file.void_reason AS "why removed"
       FROM attached_file AS file LEFT JOIN delivery ON delivery.id = file.delivery_id LEFT JOIN lot ON lot.id = file.lot_id LEFT JOIN equipment ON equipment.id = file.equipment_id
       LEFT JOIN system ON system.id = coalesce(file.system_id, equipment.system_id)
       JOIN site ON site.id = coalesce(lot.site_id, system.site_id, delivery.site_id) LEFT JOIN account ON account.id = file.account_id
      WHERE site.id = $1 ORDER BY file.created_at, file.id`,
  ),
];
