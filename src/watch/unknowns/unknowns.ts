import type pg from 'pg';
import { WITHIN_RACK } from '../../farm/racks/slots.rules.ts';

/** Something that nobody has told the farm yet, and where to say it. */
export interface Unknown {
  /** What is not known, as a word of the code: one is asked for once, and can be set aside. */
  what: string;
  text: string;
  href: string;
}

interface Row {
  what: keyof typeof words;
  /** How many racks or systems it concerns, and the names of the first of them. */
  count: number;
  names: string;
  /** Of the first of them; null where it concerns the farm. */
  id: string | null;
  /** The tank of that rack; null where it concerns no rack. */
  tank: string | null;
}

const words = {
  system: () => ({ text: 'No system is set up: add the first one.', href: '/farm/systems/new' }),
  tank: ({ names, id }: Row) => ({
    text: `No tank is set up in ${names}: add the first one.`,
    href: `/farm/systems/${id}/tanks/new`,
  }),
  lot: () => ({ text: 'No lots yet: take in what is on the racks.', href: '/stock/new' }),
  reading: ({ id }: Row) => ({
    text: 'No water was ever tested: enter the first readings.',
    href: id === null ? '/water' : `/water/systems/${id}/readings/new`,
  }),
  rack: ({ names, id }: Row) => ({
    text: `No rack is set up: add the first one in ${names}.`,
    href: `/farm/tanks/${id}/racks/new`,
  }),
  flow: ({ names, id, tank, count }: Row) => ({
    text: `How the water moves is not known on ${names}: places are not judged by flow there.`,
    href: count === 1 ? `/racks/${id}/flow` : `/farm/tanks/${tank}/flow`,
  }),
  survey: ({ names, id }: Row) => ({
    text: `The light was never measured on ${names}: light is not judged there.`,
    href: `/racks/${id}/surveys/new`,
  }),
  lamp: ({ names, id, tank, count }: Row) => ({
    text: `Which lamps light ${names} and for how many hours is not known: the daily light there is a guess.`,
    href: count === 1 ? `/farm/racks/${id}` : `/farm/tanks/${tank}/lamps/each`,
  }),
  doses: ({ names, id }: Row) => ({
    text: `No dose was ever recorded for ${names}: use cannot be judged. If nothing is dosed, say so once.`,
    href: `/water/systems/${id}/doses`,
  }),
  dosers: ({ names, id }: Row) => ({
    text: `Something is dosed in ${names} by a doser or a routine, and no dose was ever recorded: log what is given.`,
    href: `/water/systems/${id}/doses`,
  }),
  changes: ({ names, id }: Row) => ({
    text: `No water change was ever recorded for ${names}: what feeding brings cannot be judged. If none is made, say so once.`,
    href: `/water/systems/${id}/water-changes`,
  }),
  makeUp: ({ names, id }: Row) => ({
    text: `What the make-up water of ${names} holds was never said: it is taken to hold no nutrients, and what changes bring back is not known.`,
    href: `/water/systems/${id}/targets`,
  }),
  untested: ({ names, id }: Row) => ({
    text: `The water of ${names} was never tested: nothing is known of it.`,
    href: `/water/systems/${id}/readings/new`,
  }),
  bands: ({ names, id }: Row) => ({
    text: `No bands are set for ${names}: levels are not compared with any. Some are proposed.`,
    href: `/water/systems/${id}/targets`,
  }),
  starting: ({ names, id, count }: Row) => ({
    text: `${names} still ${count === 1 ? 'keeps' : 'keep'} bands that nobody chose: confirm them or type your own.`,
    href: `/water/systems/${id}/targets`,
  }),
  kit: ({ names, id }: Row) => ({
    text: `How sure ${names} can be is from memory, not checked: two tests of one sample show what such a test can tell.`,
    href: `/water/kits/${id}`,
  }),
} as const;

/** What a farm needs before a day on it can be called quiet. */
export const firstSteps: readonly string[] = ['system', 'tank', 'rack', 'lot', 'reading'];

/** Names that end in a number by that number: "R2" stands before "R10". */
export const numbersInOrder = "rtrim(name, '0123456789'), length(name), name";

// A list of names is cut after the third; the first one's id is where the link leads.
const query = `
  WITH own AS (
    SELECT id, name, position, undosed_since, unchanged_since,
           EXISTS (SELECT FROM equipment WHERE kind = 'doser' AND removed_at IS NULL AND equipment.system_id = system.id)
             OR EXISTS (SELECT FROM routine WHERE work = 'dose' AND ended_at IS NULL AND routine.system_id = system.id) AS doses
      FROM system WHERE site_id = $1 AND retired_at IS NULL),
  shelf AS (SELECT rack.id, rack.name, rack.tank_id, rack.lamp_id FROM rack JOIN tank ON tank.id = rack.tank_id
             WHERE tank.system_id IN (SELECT id FROM own)),
  missing AS (
    SELECT 'system' AS what, 1 AS rank, '' AS name, NULL::uuid AS id, NULL::uuid AS tank WHERE NOT EXISTS (SELECT FROM own)
    UNION ALL (SELECT 'tank', 2, name, id, NULL FROM own
      WHERE NOT EXISTS (SELECT FROM tank WHERE system_id IN (SELECT id FROM own)) ORDER BY position, name LIMIT 1)
    UNION ALL (SELECT 'rack', 2, tank.name, tank.id, NULL FROM tank JOIN own ON own.id = tank.system_id
      WHERE NOT EXISTS (SELECT FROM shelf) ORDER BY own.position, own.name, tank.position, tank.name LIMIT 1)
    UNION ALL SELECT 'lot', 3, '', NULL, NULL WHERE NOT EXISTS (SELECT FROM lot WHERE site_id = $1)
    UNION ALL SELECT 'reading', 4, '', (SELECT id FROM own ORDER BY position, name LIMIT 1), NULL
      WHERE NOT EXISTS (SELECT FROM reading WHERE system_id IN (SELECT id FROM own))
    UNION ALL SELECT 'untested', 5, name, id, NULL FROM own WHERE NOT EXISTS (SELECT FROM reading WHERE system_id = own.id)
       AND EXISTS (SELECT FROM reading WHERE system_id IN (SELECT id FROM own))
    UNION ALL SELECT 'bands', 6, name, id, NULL FROM own WHERE NOT EXISTS (
      SELECT FROM system_quantity WHERE system_id = own.id AND (band_low IS NOT NULL OR band_high IS NOT NULL))
    UNION ALL SELECT 'starting', 7, name, id, NULL FROM own WHERE EXISTS (SELECT FROM system_quantity WHERE system_id = own.id AND starting)
    UNION ALL SELECT 'survey', 8, name, id, tank_id FROM shelf WHERE NOT EXISTS (
      SELECT FROM light_survey WHERE rack_id = shelf.id AND voided_at IS NULL)
    UNION ALL SELECT 'lamp', 9, name, id, tank_id FROM shelf WHERE lamp_id IS NULL
    UNION ALL SELECT 'flow', 10, name, id, tank_id FROM shelf WHERE EXISTS (
      SELECT FROM slot JOIN rack ON rack.id = slot.rack_id WHERE rack.id = shelf.id AND flow IS NULL AND ${WITHIN_RACK})
    UNION ALL SELECT CASE WHEN doses THEN 'dosers' ELSE 'doses' END, CASE WHEN doses THEN 11 ELSE 12 END, name, id, NULL FROM own WHERE (doses OR undosed_since IS NULL)
       AND NOT EXISTS (SELECT FROM dose WHERE system_id = own.id AND voided_at IS NULL)
    UNION ALL SELECT 'changes', 13, name, id, NULL FROM own WHERE unchanged_since IS NULL AND NOT EXISTS (
      SELECT FROM water_change WHERE system_id = own.id AND voided_at IS NULL)
    UNION ALL SELECT 'makeUp', 14, name, id, NULL FROM own WHERE EXISTS (
      SELECT FROM water_change WHERE system_id = own.id AND voided_at IS NULL)
       AND NOT EXISTS (SELECT FROM system_quantity WHERE system_id = own.id AND make_up IS NOT NULL)
    UNION ALL SELECT 'kit', 15, kit.label, kit.id, NULL FROM kit JOIN method ON method.id = kit.method_id
     WHERE kit.retired_at IS NULL AND (method.note ILIKE '%from memory%' OR (method.absolute = 0 AND method.relative = 0)))
  SELECT what, count(*)::int AS count, (array_agg(id ORDER BY ${numbersInOrder}))[1] AS id, (array_agg(tank ORDER BY ${numbersInOrder}))[1] AS tank,
         array_to_string((array_agg(name ORDER BY ${numbersInOrder}))[1:3], ', ') || CASE WHEN count(*) > 3 THEN ' and ' || count(*) - 3 || ' more' ELSE '' END AS names
    FROM missing GROUP BY what, rank ORDER BY rank`;

/**
 * What is still missing, each once for the farm: first what a new farm sets up, then what rules leave out
 * because nobody has said it. One query.
 */
export async function unknownsOf(
  pool: pg.Pool,
  siteId: string,
): Promise<{ setUp: Unknown[]; unseen: Unknown[] }> {
  const { rows } = await pool.query<Row>(query, [siteId]);
  const said = (of: readonly Row[]) => of.map((row) => ({ what: row.what, ...words[row.what](row) }));
  return {
    setUp: said(rows.filter(({ what }) => firstSteps.includes(what))),
    unseen: said(rows.filter(({ what }) => !firstSteps.includes(what))),
  };
}
