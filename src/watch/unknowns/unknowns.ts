import type pg from 'pg';

/** Something that nobody has told the farm yet, and where to say it. */
export interface Unknown {
  text: string;
  href: string;
}

interface Row {
  what: keyof typeof words;
  /** How many racks or systems it concerns, and the names of the first of them. */
  count: number;
  names: string;
  id: string;
}

const words = {
  system: () => ({ text: 'No system is set up: add the first one.', href: '/farm' }),
  lot: () => ({ text: 'No lot is in the books: add what stands on the racks.', href: '/stock/new' }),
  reading: () => ({ text: 'No water was ever tested: enter the first readings.', href: '/water' }),
  round: () => ({
    text: 'No round is planned: say which racks are walked, when and by whom.',
    href: '/rounds',
  }),
  rack: () => ({ text: 'No rack is set up: add the tanks and their racks.', href: '/farm' }),
  flow: ({ names, id }: Row) => ({
    text: `How the water moves is not known on ${names}: places are not judged by flow there.`,
    href: `/racks/${id}/flow`,
  }),
  survey: ({ names, id }: Row) => ({
    text: `The light was never measured on ${names}: light is not judged there.`,
    href: `/racks/${id}/surveys/new`,
  }),
  lamp: ({ names }: Row) => ({
    text: `Which lamps light ${names} and for how many hours is not known: the daily light there is a guess.`,
    href: '/farm',
  }),
  doses: ({ names, id }: Row) => ({
    text: `No dose was ever recorded for ${names}: use cannot be judged.`,
    href: `/water/systems/${id}`,
  }),
  changes: ({ names, id }: Row) => ({
    text: `No water change was ever recorded for ${names}: what feeding brings cannot be judged.`,
    href: `/water/systems/${id}`,
  }),
  bands: ({ names, id }: Row) => ({
    text: `No bands are set for ${names}: levels are not compared with any.`,
    href: `/water/systems/${id}/targets`,
  }),
} as const;

/** What a farm needs before a day on it can be called quiet. */
const firstSteps: readonly string[] = ['system', 'rack', 'lot', 'reading'];

// A list of names is cut after the third; the first one's id is where the link leads.
const query = `
  WITH own AS (SELECT id, name, position FROM system WHERE site_id = $1 AND retired_at IS NULL),
  shelf AS (SELECT rack.id, rack.name, rack.lamp_id FROM rack JOIN tank ON tank.id = rack.tank_id
             WHERE tank.system_id IN (SELECT id FROM own)),
  missing AS (
    SELECT 'system' AS what, 1 AS rank, '' AS name, NULL::uuid AS id WHERE NOT EXISTS (SELECT FROM own)
    UNION ALL SELECT 'rack', 2, '', NULL WHERE EXISTS (SELECT FROM own) AND NOT EXISTS (SELECT FROM shelf)
    UNION ALL SELECT 'lot', 3, '', NULL WHERE NOT EXISTS (SELECT FROM lot WHERE site_id = $1)
    UNION ALL SELECT 'reading', 4, '', NULL WHERE NOT EXISTS (SELECT FROM reading WHERE system_id IN (SELECT id FROM own))
    UNION ALL SELECT 'bands', 6, name, id FROM own WHERE NOT EXISTS (
      SELECT FROM system_quantity WHERE system_id = own.id AND (band_low IS NOT NULL OR band_high IS NOT NULL))
    UNION ALL SELECT 'survey', 7, name, id FROM shelf WHERE NOT EXISTS (
      SELECT FROM light_survey WHERE rack_id = shelf.id AND voided_at IS NULL)
    UNION ALL SELECT 'lamp', 8, name, id FROM shelf WHERE lamp_id IS NULL
    UNION ALL SELECT 'flow', 9, name, id FROM shelf WHERE EXISTS (SELECT FROM slot WHERE rack_id = shelf.id AND flow IS NULL)
    UNION ALL SELECT 'doses', 10, name, id FROM own WHERE NOT EXISTS (
      SELECT FROM dose WHERE system_id = own.id AND voided_at IS NULL)
    UNION ALL SELECT 'changes', 11, name, id FROM own WHERE NOT EXISTS (
      SELECT FROM water_change WHERE system_id = own.id AND voided_at IS NULL))
  SELECT what, count(*)::int AS count, (array_agg(id ORDER BY name))[1] AS id,
         array_to_string((array_agg(name ORDER BY name))[1:3], ', ') || CASE WHEN count(*) > 3 THEN ' and ' || count(*) - 3 || ' more' ELSE '' END AS names
    FROM missing GROUP BY what, rank ORDER BY rank`;

/**
 * What would make the watch see more, each once for the farm: first what a new farm sets up, then what rules leave out
 * because nobody has said it. One query.
 */
export async function unknownsOf(
  pool: pg.Pool,
  siteId: string,
): Promise<{ setUp: Unknown[]; unseen: Unknown[] }> {
  const { rows } = await pool.query<Row>(query, [siteId]);
  const said = (of: readonly Row[]) => of.map((row) => words[row.what](row));
  return {
    setUp: said(rows.filter(({ what }) => firstSteps.includes(what))),
    unseen: said(rows.filter(({ what }) => !firstSteps.includes(what))),
  };
}
