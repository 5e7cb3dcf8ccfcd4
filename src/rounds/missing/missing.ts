import type pg from 'pg';
import { backupWordsNow } from '../../backups/backups.ts';
import { failingWebhooks } from '../../intake/webhooks/deliveries.ts';
import type { Work } from '../../platform/change.ts';
import type { Service } from '../../platform/service.ts';
import type { PublicAddress } from '../../platform/web/public-address.ts';
import { numbersInOrder, type Unknown, unknownsOf } from '../../watch/unknowns/unknowns.ts';

/** One thing that is still missing, and the form where it is said. */
export type Missing = Unknown;

/** One that somebody said the site has no use for. */
export interface SetAside {
  item: string;
  by: string | null;
  at: Date;
}

interface Row {
  what: keyof typeof words;
  names: string;
  id: string | null;
  /** Of the first lot; null where it concerns no lot. */
  code: string | null;
}

const words = {
  slotSize: ({ names }: Row) => ({
    text: `How wide the slots of ${names} are is not noted: what touches what is not judged there.`,
    href: '/farm/slot-sizes',
  }),
  volume: ({ names, id }: Row) => ({
    text: `The tanks of ${names} hold more than twice its net volume: every dose is reckoned from that volume, so check both.`,
    href: `/farm/systems/${id}`,
  }),
  lotSize: ({ names, code }: Row) => ({
    text: `How large the pieces of ${names} are is not noted: when they are ready to sell is not known.`,
    href: `/stock/${code}/details`,
  }),
  kits: () => ({
    text: 'No test kit is noted: how far a reading can be off is taken from the method alone.',
    href: '/water/kits',
  }),
  productEffects: ({ names, id }: Row) => ({
    text: `What is dosed in ${names} is not fully known: say what each product raises. Until then its use is not known.`,
    href: `/water/systems/${id}/doses#unsaid`,
  }),
  probeNames: ({ names }: Row) => ({
    text: `Values of ${names} wait and count for nothing, and those of more than a week are lost: say which system and which instrument each is.`,
    href: '/water/probes',
  }),
  routines: ({ names, id }: Row) => ({
    text: `No routine is set for ${names}: nothing reminds of tests, feeding or water changes there.`,
    href: `/water/systems/${id}/routines/new`,
  }),
  roundPlan: () => ({
    text: 'No round is planned: say which racks are walked, when and by whom.',
    href: '/rounds/plans/new',
  }),
  contacts: () => ({
    text: 'Nobody is on call: an emergency page has no number to call.',
    href: '/farm/contacts/new',
  }),
} as const;

// A tank holds most of its inside, and rock and sand take a little of that: a net volume below half of it is a slip, or
// tanks that share no water (own choice). Of lots, which may be many, the first three are taken and how many there are, both
// from the index `lot_unmeasured`, which holds them in this order.
const unmeasured = 'site_id = $1 AND pieces > 0 AND size_mm IS NULL';
const query = `
  WITH own AS (SELECT id, name, volume_l FROM system WHERE site_id = $1 AND retired_at IS NULL),
  missing AS (
    SELECT 'slotSize' AS what, 1 AS rank, rack.name, rack.id, NULL AS code, NULL::bigint AS of_all
      FROM rack JOIN tank ON tank.id = rack.tank_id JOIN own ON own.id = tank.system_id
     WHERE rack.slot_width_mm IS NULL OR rack.slot_depth_mm IS NULL
    UNION ALL SELECT 'volume', 0, own.name, own.id, NULL, NULL FROM own JOIN tank ON tank.system_id = own.id AND tank.own_water = ''
     GROUP BY own.id, own.name, own.volume_l HAVING own.volume_l < 0.5 * sum(length_mm::float8 * width_mm * height_mm) / 1e6
    UNION ALL (SELECT 'lotSize', 2, name, id, code, (SELECT count(*) FROM lot WHERE ${unmeasured}) FROM (
      SELECT coalesce(nullif(own_code, ''), code) AS name, id, code FROM lot WHERE ${unmeasured}) AS unmeasured
      ORDER BY ${numbersInOrder} LIMIT 3)
    UNION ALL SELECT 'kits', 3, '', NULL, NULL, NULL WHERE EXISTS (SELECT FROM own) AND NOT EXISTS (SELECT FROM kit WHERE retired_at IS NULL)
    UNION ALL SELECT 'productEffects', 1, name, id, NULL, NULL FROM own
     WHERE EXISTS (SELECT FROM dose WHERE system_id = own.id AND effect IS NULL AND quantity_code IS NULL AND voided_at IS NULL AND at > $2::timestamptz - interval '30 days')
    UNION ALL SELECT 'probeNames', 0, name, NULL, NULL, NULL FROM probe_name
     WHERE unkept > 0 AND (system_id IS NULL OR system_id IN (SELECT id FROM own))
    UNION ALL SELECT 'routines', 4, name, id, NULL, NULL FROM own
     WHERE NOT EXISTS (SELECT FROM routine WHERE system_id = own.id AND ended_at IS NULL)
    UNION ALL SELECT 'roundPlan', 5, '', NULL, NULL, NULL WHERE NOT EXISTS (SELECT FROM round_plan WHERE site_id = $1 AND paused_at IS NULL)
    UNION ALL SELECT 'contacts', 6, '', NULL, NULL, NULL WHERE NOT EXISTS (SELECT FROM contact WHERE site_id = $1 AND on_call IS NOT NULL))
  SELECT what, (array_agg(id ORDER BY ${numbersInOrder}))[1] AS id, (array_agg(code ORDER BY ${numbersInOrder}))[1] AS code,
         array_to_string((array_agg(name ORDER BY ${numbersInOrder}))[1:3], ', ') || CASE WHEN coalesce(max(of_all), count(*)) > 3 THEN ' and ' || coalesce(max(of_all), count(*)) - 3 || ' more' ELSE '' END AS names
    FROM missing GROUP BY what, rank ORDER BY rank`;

const asideQuery = `
  SELECT item, account.name AS by, at FROM not_for_us LEFT JOIN account ON account.id = account_id
   WHERE site_id = $1 ORDER BY at, item`;

/** How the service is asked for: what is missing for tablets and buyers is seen from there. */
export interface Asked {
  address: PublicAddress;
  isSecure: boolean;
}

/** What is missing around the service itself. */
async function aroundService(
  service: Service,
  { id: siteId, timeZone }: { id: string; timeZone: string },
  { address, isSecure }: Asked,
): Promise<Missing[]> {
  const now = service.now();
  const [backup, failing] = await Promise.all([
    backupWordsNow(service, { timeZone, now }),
    failingWebhooks(service.pool, siteId, now),
  ]);
  const missing: Missing[] = [];
  if (address.warning !== null && address.hereAlone)
    missing.push({ what: 'address', text: address.warning, href: '/farm/reach' });
  if (service.config.BACKUPS === 'nightly' && (backup === null || backup.late))
    missing.push({
      what: 'backups',
      text: backup?.words ?? 'No backup was made yet: one is made each night, or now by its button.',
      href: '/backups',
    });
  for (const { id, address: receiver, offReason } of failing)
    missing.push({
      what: 'webhooks',
      text:
        offReason === ''
          ? `${receiver} takes nothing at the moment. Its page says what is tried again and what was given up.`
          : `${receiver} is told nothing any more. ${offReason}`,
      href: `/farm/webhooks/${id}`,
    });
  if (!isSecure)
    missing.push({
      what: 'https',
      text: 'The service is asked without HTTPS: who listens on the network reads along.',
      href: '/farm/reach',
    });
  return missing;
}

/**
 * All that a site has not said yet and the service would go by, each thing once with the form where it is said; and what
 * somebody set aside. A thing goes when it is done.
 */
export async function missingAt(
  service: Service,
  { id: siteId, timeZone }: { id: string; timeZone: string },
  asked: Asked,
): Promise<{ missing: Missing[]; aside: SetAside[] }> {
  const { pool } = service;
  const [{ setUp, unseen }, own, around, aside] = await Promise.all([
    unknownsOf(pool, siteId),
    pool.query<Row>(query, [siteId, service.now()]),
    aroundService(service, { id: siteId, timeZone }, asked),
    setAsideAt(pool, siteId),
  ]);
  const all = [
    ...setUp,
    ...unseen,
    ...own.rows.map((row) => ({ what: row.what, ...words[row.what](row) })),
    ...around,
  ];
  const away = new Set(aside.map(({ item }) => item));
  return { missing: all.filter(({ what }) => !away.has(what)), aside };
}

async function setAsideAt(pool: pg.Pool, siteId: string): Promise<SetAside[]> {
  return (await pool.query<SetAside>(asideQuery, [siteId])).rows;
}

/** Sets one thing aside: the site has no use for it. Doing it twice is once. */
export async function setAside(work: Work, siteId: string, item: string): Promise<void> {
  await work.tx.notForUs.upsert({
    where: { siteId_item: { siteId, item } },
    create: { siteId, item, accountId: work.accountId, at: work.now },
    update: {},
  });
  work.record('missing.set_aside', { type: 'site', id: siteId }, { item });
}

/** Takes one thing back on the list. */
export async function askAgain(work: Work, siteId: string, item: string): Promise<void> {
  await work.tx.notForUs.deleteMany({ where: { siteId, item } });
  work.record('missing.asked_again', { type: 'site', id: siteId }, { item });
}
