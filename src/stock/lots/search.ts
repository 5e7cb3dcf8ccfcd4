import type pg from 'pg';
import type { Cell } from '../../farm/racks/slots.rules.ts';
import type { ConditionState, GrowthForm, Severity } from '../../generated/prisma/enums.ts';
import { type Price, priceOf } from '../../platform/words/money.ts';
import { conditionWords } from '../base/condition-states.rules.ts';
import type { Face } from '../base/face.ts';
import type { DrawnPlace } from '../places/place-drawing.ts';
import { cellWords } from '../places/slots.ts';
import { scientificNameWords } from './identifications.ts';

/** Which lots a search goes through; 'gone' are those with no pieces left, every other has some. */
export const LOT_SETS = ['all', 'mothers', 'unplaced', 'alerts', 'gone'] as const;
export type LotSet = (typeof LOT_SETS)[number];

export interface LotQuery {
  siteId: string;
  /**
   * Words of a code, a trade name, a kind, any name ever given to it, its origin, permit or note, a system, tank, rack or
   * slot, a buyer's hold; all must match.
   */
  text?: string;
  only?: LotSet;
  /** A care group; lots of the kinds under it as well. */
  groupId?: string | null;
  /** From 1. */
  page?: number;
  perPage?: number;
}

/** One lot as a list shows it. */
export interface ListedLot {
  id: string;
  code: string;
  /** The farm's own code; "" where it has none. */
  ownCode: string;
  tradeName: string;
  /** Of one piece; null where none is set. */
  price: Price | null;
  kind: string;
  group: string;
  /** "Goniastrea cf. edwardsi"; "" when nobody has identified it. */
  name: string;
  pieces: number;
  isMother: boolean;
  systemId: string | null;
  systemName: string;
  rackId: string | null;
  /** "Rack S2, A3"; "Rack S2, covers A3 to A5" for a colony with more slots than pieces; "" when it is not placed. */
  place: string;
  /** Its place in its rack, to be drawn; null when it is not placed. */
  drawn: DrawnPlace | null;
  face: Face;
  /** The last time somebody looked at it, and what was seen; null when never. */
  lastLook: { at: Date; words: string } | null;
  /** Its open alerts that are not put off, the most urgent first. */
  alerts: { severity: Severity; title: string }[];
}

export interface LotPage {
  lots: ListedLot[];
  total: number;
  page: number;
  perPage: number;
}

/**
 * $7: patterns; $8: of which typed word each is; $9: which may be the name of a slot. A lot matches a word by what is written
 * on it, by its kind, by a name it was given, by its place or by a buyer for whom pieces are held; every word has to match.
 * No word has a blank in it, so it lies within one name: racks and the few names of slots are looked through, not each slot.
 */
const foundBy = `
  WITH RECURSIVE asked AS (SELECT word, position, cell FROM unnest($7::text[], $8::int[], $9::boolean[]) AS asked (word, position, cell)),
  kinds AS (
    SELECT kind.id, lower(concat_ws(' ', '', kind.name, array_to_string(kind.also_called, ' '),
             parent.name, array_to_string(parent.also_called, ' '), '')) AS words
      FROM kind LEFT JOIN kind AS parent ON parent.id = kind.parent_id),
  grounds AS (
    SELECT rack.id, lower(concat_ws(' ', '', system.name, tank.name, rack.name, '')) AS words
      FROM rack JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id),
  cells AS (
    SELECT DISTINCT slot.row, slot."column", lower(' ' || chr(64 + slot.row) || slot."column" || ' ') AS words
      FROM slot WHERE EXISTS (SELECT FROM asked WHERE cell)),
  slots AS (
    SELECT asked.position, slot.id FROM asked JOIN grounds ON grounds.words LIKE asked.word JOIN slot ON slot.rack_id = grounds.id
    UNION
    SELECT asked.position, slot.id FROM asked JOIN cells ON asked.cell AND cells.words LIKE asked.word
      JOIN slot ON slot.row = cells.row AND slot."column" = cells."column"),
  given AS (
    (SELECT scientific_name FROM identification ORDER BY scientific_name LIMIT 1)
    UNION ALL
    SELECT (SELECT next.scientific_name FROM identification AS next WHERE next.scientific_name > given.scientific_name ORDER BY next.scientific_name LIMIT 1)
      FROM given WHERE given.scientific_name IS NOT NULL),
  matching AS (
    SELECT asked.position, lot.id FROM asked
      JOIN lot ON lot_words(lot.code, lot.own_code, lot.trade_name, lot.origin, lot.permit, lot.note) LIKE asked.word
    UNION
    SELECT asked.position, lot.id FROM asked JOIN kinds ON kinds.words LIKE asked.word JOIN lot ON lot.kind_id = kinds.id
    UNION
    SELECT asked.position, identification.lot_id FROM asked
      JOIN given ON given.scientific_name IS NOT NULL
      LEFT JOIN kind AS known ON known.name = scientific_name OR scientific_name = ANY(known.also_called)
      JOIN identification ON identification.scientific_name = given.scientific_name
     WHERE lower(concat_ws(' ', '', given.scientific_name, known.name, array_to_string(known.also_called, ' '), '')) LIKE asked.word
    UNION
    SELECT slots.position, placement.lot_id FROM slots
      JOIN placement_slot AS held ON held.slot_id = slots.id AND held.to_at IS NULL
      JOIN placement ON placement.id = held.placement_id AND placement.to_at IS NULL
    UNION
    SELECT asked.position, lot_id FROM asked
      JOIN hold ON released_at IS NULL AND lower(concat_ws(' ', '', buyer, '')) LIKE asked.word),
  found AS (SELECT id FROM matching GROUP BY id HAVING count(DISTINCT position) >= (SELECT count(DISTINCT position) FROM asked)),`;

const searchOf = (words: string, among: string) => `
  ${words}
  with_alert AS (
    SELECT DISTINCT lot_id FROM lot_alert WHERE $3::text = 'alerts' AND (put_off_until IS NULL OR put_off_until <= $4))
  SELECT lot.id, count(*) OVER ()::int AS total
    FROM lot ${among}
    JOIN kind ON kind.id = lot.kind_id
    LEFT JOIN kind AS parent ON parent.id = kind.parent_id
   WHERE lot.site_id = $1 AND ($2::uuid IS NULL OR $2 IN (kind.id, parent.id))
     AND CASE $3::text WHEN 'gone' THEN lot.pieces = 0
                       WHEN 'mothers' THEN lot.pieces > 0 AND lot.is_mother
                       WHEN 'unplaced' THEN lot.pieces > 0 AND NOT EXISTS (SELECT 1 FROM lot_place WHERE lot_id = lot.id)
                       WHEN 'alerts' THEN lot.id IN (SELECT lot_id FROM with_alert)
                       ELSE lot.pieces > 0 END
   ORDER BY kind.name, lot.own_code, lot.code LIMIT $5 OFFSET $6`;

const search = searchOf(foundBy, 'JOIN found ON found.id = lot.id');
const listing = searchOf('WITH', '');

const details = `
  SELECT lot.id, lot.code, lot.own_code AS "ownCode", lot.trade_name AS "tradeName", lot.price_minor AS "priceMinor", site.currency,
         kind.name AS kind, coalesce(parent.name, kind.name) AS "group", lot.pieces,
         lot.is_mother AS "isMother", opinion.scientific_name AS "scientificName", opinion.identification_qualifier AS qualifier,
         place.system_id AS "systemId", place.system_name AS "systemName", place.rack_id AS "rackId",
         place.rack_name AS "rackName", place.rows, place.columns, place.cells,
         json_array_length(place.cells) > lot.pieces AND lot.pieces > 0
           AND NOT EXISTS (SELECT FROM ledger_entry AS gone WHERE gone.lot_id = lot.id AND gone.change < 0 AND gone.voided_at IS NULL AND gone.created_at > place.set_at) AS covers,
         face.photo_id AS "photoId", face.growth_form AS "growthForm", seen.at AS "seenAt", seen.state, seen.grade, warned.alerts
    FROM unnest($1::uuid[]) WITH ORDINALITY AS chosen (id, position)
    JOIN lot ON lot.id = chosen.id
    JOIN site ON site.id = lot.site_id
    JOIN kind ON kind.id = lot.kind_id
    LEFT JOIN kind AS parent ON parent.id = kind.parent_id
    LEFT JOIN LATERAL (SELECT scientific_name, identification_qualifier FROM identification WHERE lot_id = lot.id
                        ORDER BY date_identified DESC, created_at DESC LIMIT 1) AS opinion ON true
    JOIN LATERAL (SELECT * FROM lot_face WHERE lot_id = lot.id OFFSET 0) AS face ON true
    LEFT JOIN LATERAL (SELECT system_id, system_name, rack_id, rack_name, placement.created_at AS set_at, rack.rows, rack.columns,
                              json_agg(json_build_object('row', "row", 'column', "column") ORDER BY "row", "column") AS cells
                         FROM lot_place JOIN rack ON rack.id = rack_id JOIN placement ON placement.id = placement_id
                        WHERE lot_place.lot_id = lot.id GROUP BY 1, 2, 3, 4, 5, 6, 7) AS place ON true
    LEFT JOIN lot_look AS seen ON seen.lot_id = lot.id
    LEFT JOIN (SELECT lot_id, json_agg(json_build_object('severity', severity, 'title', title) ORDER BY severity, opened_at) AS alerts
                 FROM lot_alert WHERE lot_id = ANY($1::uuid[]) AND (put_off_until IS NULL OR put_off_until <= $2)
                GROUP BY lot_id) AS warned ON warned.lot_id = lot.id
   ORDER BY chosen.position`;

interface DetailRow {
  id: string;
  code: string;
  ownCode: string;
  tradeName: string;
  priceMinor: number | null;
  currency: string | null;
  kind: string;
  group: string;
  pieces: number;
  isMother: boolean;
  /** True where it was given more slots than it has pieces. */
  covers: boolean | null;
  scientificName: string | null;
  qualifier: string | null;
  systemId: string | null;
  systemName: string | null;
  rackId: string | null;
  rackName: string | null;
  rows: number | null;
  columns: number | null;
  cells: Cell[] | null;
  photoId: string | null;
  growthForm: GrowthForm | null;
  seenAt: Date | null;
  state: ConditionState | null;
  grade: number | null;
  alerts: ListedLot['alerts'] | null;
}

/** What a code can go on with behind what looks like a slot: "A3-17", "A3/17". */
const ends = [' ', '-', '/', '.', ','];

/** A pattern, the number of the typed word that it stands for, and whether it can be in the name of a slot. */
interface Pattern {
  pattern: string;
  word: number;
  cell: boolean;
}

/**
 * What each typed word is looked for as. A slot ("A3") must match a whole word, so that it does not find A30, or the first
 * part of a code ("A3-17"); other words may match part of a word.
 */
function patternsOf(text: string): Pattern[] {
  const words = text
    .toLowerCase()
    .split(/[\s,;·]+/)
    .filter((word) => word !== '');
  return words.flatMap((typed, word) => {
    const plain = typed.replace(/[\\%_]/g, '\\$&');
    const isSlot = /^[a-z]\d{1,2}$/.test(typed);
    const patterns = isSlot ? ends.map((end) => `% ${plain}${end}%`) : [`%${plain}%`];
    // A slot has a letter and a number.
    const cell = /^.?\d*$/u.test(typed);
    return patterns.map((pattern) => ({ pattern, word, cell }));
  });
}

function lookOf({ seenAt, state, grade }: DetailRow): ListedLot['lastLook'] {
  return seenAt === null || state === null ? null : { at: seenAt, words: conditionWords(state, grade) };
}

function drawnPlaceOf({ rows, columns, cells }: DetailRow): DrawnPlace | null {
  return rows === null || columns === null ? null : { rows, columns, cells: cells ?? [] };
}

function listedLotOf(row: DetailRow): ListedLot {
  const { id, code, ownCode, tradeName, kind, group, pieces, isMother, systemId, rackId } = row;
  const name =
    row.scientificName === null ? '' : scientificNameWords(row.scientificName, row.qualifier ?? '');
  const cells = row.cells ?? [];
  const place =
    row.rackName === null
      ? ''
      : `${row.rackName}, ${row.covers === true ? 'covers ' : ''}${cellWords(cells)}`;
  const systemName = row.systemName ?? '';
  const lastLook = lookOf(row);
  const alerts = row.alerts ?? [];
  return {
    id,
    code,
    ownCode,
    tradeName,
    price: priceOf(row.priceMinor, row.currency),
    kind,
    group,
    name,
    pieces,
    isMother,
    systemId,
    systemName,
    rackId,
    place,
    drawn: drawnPlaceOf(row),
    face: { photoId: row.photoId, growthForm: row.growthForm },
    lastLook,
    alerts,
  };
}

/** Lots as lists show them, in the order of the ids. One query. */
export async function listLots(pool: pg.Pool, ids: readonly string[], now: Date): Promise<ListedLot[]> {
  const { rows } = await pool.query<DetailRow>(details, [ids, now]);
  return rows.map(listedLotOf);
}

/** A page of the lots that match every word of the text. Two queries. */
export async function findLots(pool: pg.Pool, query: LotQuery, now: Date): Promise<LotPage> {
  const { siteId, text = '', only = 'all', groupId = null, page = 1, perPage = 50 } = query;
  const asked = patternsOf(text);
  const values = [siteId, groupId, only, now, perPage, (page - 1) * perPage];
  const words = [
    asked.map(({ pattern }) => pattern),
    asked.map(({ word }) => word),
    asked.map(({ cell }) => cell),
  ];
  const { rows } = await (asked.length === 0
    ? pool.query<{ id: string; total: number }>(listing, values)
    : pool.query<{ id: string; total: number }>(search, [...values, ...words]));
  const lots = await listLots(
    pool,
    rows.map((row) => row.id),
    now,
  );
  return { lots, total: rows[0]?.total ?? 0, page, perPage };
}
