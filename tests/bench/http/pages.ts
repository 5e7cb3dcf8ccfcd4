import type pg from 'pg';
import { begin, planRound } from '../../rounds/hall.ts';
import type { Bench, Visitor } from '../../support/service.ts';

/** A page that is asked for, under the name it is printed with. */
export interface Page {
  name: string;
  path: string;
}

/** Pages that every farm has. */
const lists: Page[] = [
  { name: 'Today', path: '/' },
  { name: 'Water', path: '/water' },
  { name: 'Alerts', path: '/watch' },
  { name: 'alerts as JSON', path: '/api/alerts' },
  { name: 'Digest', path: '/digest' },
  { name: 'Racks', path: '/racks' },
  { name: 'Stock, first page', path: '/stock' },
  { name: 'Stock, search for a code', path: '/stock?q=B4711' },
  { name: 'Stock, search for a word', path: '/stock?q=brain' },
  { name: 'lots as JSON', path: '/api/lots' },
  { name: 'Ready to sell', path: '/stock/ready' },
  { name: 'Losses', path: '/stock/losses' },
  { name: 'Cuts', path: '/stock/cuts' },
  { name: 'Forecast', path: '/stock/forecast' },
  { name: 'Orders', path: '/stock/orders' },
  { name: 'Deliveries', path: '/stock/deliveries' },
  { name: 'Stocktakes', path: '/stock/stocktakes' },
  { name: 'Pests', path: '/stock/pests' },
  { name: 'Moves', path: '/moves' },
  { name: 'Kinds', path: '/kinds' },
  { name: 'Kits', path: '/water/kits' },
  { name: 'Probes', path: '/water/probes' },
  { name: 'Farm', path: '/farm' },
  { name: 'Equipment', path: '/farm/equipment' },
  { name: 'Rounds', path: '/rounds' },
  { name: 'Past rounds', path: '/rounds/past' },
  { name: 'Tags', path: '/tags' },
  { name: 'Journal', path: '/journal' },
  { name: 'Report trouble', path: '/emergencies' },
];

const firstIds = `
  SELECT (SELECT id FROM system ORDER BY id LIMIT 1) AS system, (SELECT id FROM rack ORDER BY id LIMIT 1) AS rack,
         (SELECT site_id FROM system ORDER BY id LIMIT 1) AS site,
         (SELECT id FROM alert WHERE cleared_at IS NULL ORDER BY id LIMIT 1) AS alert`;

/** A tag of the first lot that may be tagged. */
async function issuedTag(pool: pg.Pool, owner: Visitor): Promise<Page[]> {
  await owner.post('/tags', { lot: 'B11', pieces: '1', reason: 'for the bench' });
  const { rows } = await pool.query<{ id: string; token: string }>('SELECT id, token FROM tag LIMIT 1');
  const [tag] = rows;
  if (tag === undefined) return [];
  return [
    { name: 'one tag', path: `/tags/${tag.id}` },
    { name: 'a tag as its buyer sees it', path: `/t/${tag.token}` },
  ];
}

/** A round over twenty tanks, begun today: what one hand can walk in a morning. */
async function begunRound(bench: Bench, siteId: string): Promise<string> {
  const { pool } = bench.service;
  const there = await pool.query<{ id: string }>('SELECT id FROM round LIMIT 1');
  if (there.rows[0] !== undefined) return there.rows[0].id;
  const tanks = await pool.query<{ id: string }>('SELECT id FROM tank ORDER BY id LIMIT 20');
  const tankIds = tanks.rows.map(({ id }) => id);
  const plan = await planRound(bench, { siteId, tankId: tankIds[0] ?? '' }, { startsAt: '00:00', tankIds });
  return begin(bench, { siteId }, plan, '2026-11-24');
}

/** Every page that is measured: the lists, and one thing of each kind. */
export async function pagesOf(bench: Bench, owner: Visitor): Promise<Page[]> {
  const { pool } = bench.service;
  const { rows } = await pool.query<Record<'system' | 'rack' | 'site' | 'alert', string>>(firstIds);
  const [ids] = rows;
  if (ids === undefined) throw new Error('the farm is empty');
  const round = await begunRound(bench, ids.site);
  return [
    ...lists,
    { name: 'one system', path: `/water/systems/${ids.system}` },
    { name: 'one rack', path: `/racks/${ids.rack}` },
    { name: 'one alert', path: `/watch/${ids.alert}` },
    { name: 'one lot', path: '/stock/B11' },
    ...(await issuedTag(pool, owner)),
    { name: 'a round', path: `/rounds/${round}` },
    { name: 'a rack of it', path: `/rounds/${round}/racks/${ids.rack}` },
    { name: 'a round as JSON', path: `/api/rounds/${round}` },
  ];
}
