import type pg from 'pg';
import type { Asked } from '../../science/whiteness/lightening.ts';
import { lightening, lighteningAsked } from '../rules/lots/lightening.ts';
import { loadSettings } from './settings.ts';

const query =
  'SELECT tank.system_id AS "systemId" FROM rack JOIN tank ON tank.id = rack.tank_id WHERE rack.id = $1';

/** What is asked of a lot on a rack before its lightening is told, as its system has it. Two queries. */
export async function lighteningAskedOn(pool: pg.Pool, rackId: string): Promise<Asked> {
  const [book, { rows }] = await Promise.all([
    loadSettings(pool),
    pool.query<{ systemId: string }>(query, [rackId]),
  ]);
  return lighteningAsked(book.here(lightening, rows[0]?.systemId ?? ''));
}
