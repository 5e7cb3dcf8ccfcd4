import { totalsSql } from '../../stock/orders/totals.ts';
import type { ExportedList } from './list.ts';
import { sqlList } from './sql-list.ts';

const manager = { access: 'manager' } as const;

/** Orders, what was sold, boxes and permits. Buyers are named, so that a manager alone gets them. */
export const orderLists: readonly ExportedList[] = [
  sqlList(
    { ...manager, slug: 'orders', title: 'Orders', what: 'Orders with their stage, buyer and sum.' },
    `SELECT site.name AS site, sold.number AS "order", sold.stage::text AS stage, sold.buyer, sold.contact, sold.created_at AS "taken at", account.name AS "taken by",
            sold.hold_until::text AS "held until", sum(line.pieces)::int AS pieces, sold.currency,
            (sum(line.pieces * line.price_minor) + coalesce(sold.free_line_minor, 0))::float8 AS "sum [money]",
            coalesce(sum(line.pieces) FILTER (WHERE line.price_minor IS NULL), 0)::int AS "pieces without a price",
            sold.free_line AS "own line", sold.free_line_minor AS "amount of own line [money]", sold.note
       FROM sales_order AS sold JOIN site ON site.id = sold.site_id JOIN order_line AS line ON line.order_id = sold.id
       LEFT JOIN account ON account.id = sold.account_id
      WHERE site.id = $1 GROUP BY site.id, sold.id, account.name ORDER BY sold.number`,
  ),
  sqlList(
    {
      ...manager,
      slug: 'order-lines',
      title: 'Lots of orders',
      what: 'Each lot of each order, with its price, what was dead on arrival and what came back.',
    },
    `SELECT site.name AS site, sold.number AS "order", sold.stage::text AS stage, lot.code AS lot, lot.own_code AS "own code", kind.name AS kind, line.pieces,
            sold.currency, line.price_minor AS "price [money]", (line.price_minor * line.pieces::float8) AS "amount [money]",
            line.dead_on_arrival AS "dead on arrival", line.back_pieces AS "came back", line.written_off_pieces AS "written off", back.code AS "came back as",
            line.tag_id AS tag
       FROM order_line AS line JOIN sales_order AS sold ON sold.id = line.order_id JOIN site ON site.id = sold.site_id
       JOIN lot ON lot.id = line.lot_id JOIN kind ON kind.id = lot.kind_id LEFT JOIN lot AS back ON back.id = line.back_lot_id
      WHERE site.id = $1 ORDER BY sold.number, line.position, line.id`,
  ),
  sqlList(
    {
      ...manager,
      slug: 'order-stages',
      title: 'Stages of orders',
      what: 'Who took an order to which stage, when and why.',
    },
    `SELECT site.name AS site, sold.number AS "order", step.from_stage::text AS "from", step.stage::text AS "to", step.at, account.name AS by, step.reason
       FROM order_stage_change AS step JOIN sales_order AS sold ON sold.id = step.order_id JOIN site ON site.id = sold.site_id
       LEFT JOIN account ON account.id = step.account_id WHERE site.id = $1 ORDER BY step.at, step.id`,
  ),
  sqlList(
    { ...manager, slug: 'boxes', title: 'Boxes', what: 'Boxes of orders, and how they arrived.' },
    `SELECT site.name AS site, sold.number AS "order", box.carrier, box.hours AS "hours door to door", box.wall AS "made of", box.length_mm AS "length inside (mm)",
            box.width_mm AS "width inside (mm)", box.bags, box.litres_a_bag AS "water in a bag (L)", box.method AS packed, box.pack AS "heat or cold pack",
            box.start_deg_c AS "water when packed (degC)", box.coldest_deg_c AS "coldest air (degC)", box.warmest_deg_c AS "warmest air (degC)",
            box.despite AS "sent anyway", box.arrived_at AS "arrived at", box.late, sum(line.pieces)::int AS pieces,
            CASE WHEN box.arrived_at IS NOT NULL THEN sum(coalesce(line.dead_on_arrival, 0))::int END AS "dead on arrival",
            box.claim_hours AS "claims within (h)", box.result_note AS note
       FROM shipment AS box JOIN sales_order AS sold ON sold.id = box.order_id JOIN site ON site.id = sold.site_id
       JOIN order_line AS line ON line.order_id = sold.id WHERE site.id = $1 GROUP BY site.id, sold.id, box.id ORDER BY sold.number`,
  ),
  sqlList(
    { ...manager, slug: 'permit-lines', title: 'Permit lines', what: 'Lines of the permits of orders.' },
    `SELECT site.name AS site, sold.number AS "order", line.species, line.pieces, line.document, line.source_code AS source
       FROM permit_line AS line JOIN sales_order AS sold ON sold.id = line.order_id JOIN site ON site.id = sold.site_id
      WHERE site.id = $1 ORDER BY sold.number, line.position, line.id`,
  ),
  sqlList(
    { ...manager, slug: 'sales', title: 'Sales', what: 'Pieces sold, to whom, with which tag.' },
    `SELECT site.name AS site, sold.number AS "order", lot.code AS lot, lot.own_code AS "own code", kind.name AS kind, sale.pieces, sold.currency,
            line.price_minor AS "price [money]", sale.buyer, sale.at AS "sold at", sale.tag_id AS tag, sale.note, account.name AS "sold by",
            sale.voided_at AS "taken back at", sale.void_reason AS "why taken back"
       FROM sale JOIN lot ON lot.id = sale.lot_id JOIN kind ON kind.id = lot.kind_id JOIN site ON site.id = lot.site_id
       LEFT JOIN order_line AS line ON line.sale_id = sale.id LEFT JOIN sales_order AS sold ON sold.id = line.order_id
       LEFT JOIN account ON account.id = sale.account_id WHERE site.id = $1 ORDER BY sale.at, sale.id`,
  ),
  sqlList(
    {
      ...manager,
      slug: 'sales-by-month',
      title: 'Sales by month',
      what: 'What was sold by month and kind, and what came back, for the bookkeeper. No tax is worked out.',
    },
    `SELECT (SELECT name FROM site WHERE id = $1) AS site, month, kind, orders, pieces, minor AS "amount [money]", unpriced AS "pieces without a price", "backPieces" AS "came back or written off",
            "backMinor" AS "amount of it [money]", currency FROM (${totalsSql}) AS total`,
  ),
];
