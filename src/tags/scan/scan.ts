import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { lotHref } from '../../stock/base/lot-href.ts';
import { existingCode } from '../../stock/lots/lots.ts';
import { lotInSlot } from '../../stock/places/slots.ts';
import { type Printed, readScan, type Scan } from './scan.rules.ts';

/** What a code leads to. */
export interface Found {
  /** The page that it opens. */
  href: string;
  /** The lot that it means; null where it means none: a rack, a free slot. */
  lot: string | null;
  /** "Rack S2", "R46-TKR". */
  words: string;
}

const lotFound = (code: string, href = lotHref(code)): Found => ({ href, lot: code, words: code });

const rackById = `
  SELECT rack.id, rack.name FROM rack JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
   WHERE system.site_id = $1 AND rack.id = $2::uuid`;

// Racks in service before others, and those of just that name before those with "rack" before it.
const racksNamed = `
  SELECT id, name, tank FROM (
    SELECT rack.id, rack.name, tank.name AS tank, rank() OVER (ORDER BY system.retired_at IS NOT NULL, lower(rack.name) <> lower($2)) AS place
      FROM rack JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
     WHERE system.site_id = $1 AND lower(rack.name) IN (lower($2), lower('rack ' || $2))) AS named
   WHERE place = 1 ORDER BY tank`;

const slotOfRack = `
  SELECT slot.id FROM slot JOIN rack ON rack.id = slot.rack_id
   WHERE rack.id = $1::uuid AND chr(64 + slot.row) || slot."column" = upper($2) AND slot.row <= rack.rows AND slot."column" <= rack.columns`;

/**
 * What a scanned or typed code leads to at a site.
 * @throws Refusal 404 when there is no such thing; 422 when the code leads elsewhere, which is not followed
 */
export async function findScanned(
  service: Service,
  siteId: string,
  origins: readonly string[],
  text: string,
): Promise<Found> {
  const scan = readScan(text, origins);
  switch (scan.what) {
    case 'elsewhere':
      return foundByEarlierAddress(service, siteId, scan);
    case 'list':
      return { href: scan.path, lot: null, words: 'A printed list' };
    case 'words':
      return wordsFound(service, siteId, scan.text);
    default:
      return printedFound(service, siteId, scan);
  }
}

/**
 * What was printed while the service had another address stays good: ids of racks and slots, and the tokens of tags, exist
 * once in the world. A lot's code might be another farm's too, so at another host it is named, and not taken.
 */
async function foundByEarlierAddress(
  service: Service,
  siteId: string,
  { address, as, isOwnHost }: Extract<Scan, { what: 'elsewhere' }>,
): Promise<Found> {
  const found =
    as === null
      ? null
      : await printedFound(service, siteId, as).catch((error: unknown) => {
          if (error instanceof Refusal) return null;
          throw error;
        });
  if (found !== null && (isOwnHost || as?.what !== 'lot')) return found;
  const mine =
    found === null
      ? ''
      : ` If the label was printed here under an earlier address, it is ${found.lot}: type that code.`;
  throw new Refusal(`This code is not one of this farm, and is not opened: ${address}.${mine}`, {
    field: 'read',
  });
}

async function printedFound(service: Service, siteId: string, scan: Printed): Promise<Found> {
  switch (scan.what) {
    case 'lot':
      return lotOf(service, siteId, scan.code);
    case 'tag': {
      const tag = await service.db.tag.findFirst({
        where: { token: scan.token, lot: { siteId } },
        include: { lot: true },
      });
      if (tag === null) throw notFound('This tag');
      return { href: `/tags/${tag.id}`, lot: tag.lot.code, words: `Tag of ${tag.lot.code}` };
    }
    case 'slot': {
      const here = { id: scan.id, rack: { tank: { system: { siteId } } } };
      if ((await service.db.slot.count({ where: here })) === 0) throw notFound('This slot');
      return slotFound(service, scan.id);
    }
    case 'rack': {
      const { rows } = await service.pool.query<{ id: string; name: string }>(rackById, [siteId, scan.id]);
      if (rows[0] === undefined) throw notFound('This rack');
      return rackFound(rows[0]);
    }
  }
}

async function lotOf(service: Service, siteId: string, typed: string): Promise<Found> {
  const code = await existingCode(service.db, siteId, typed);
  if (code === null) throw notFound(`The lot ${typed}`);
  return lotFound(code);
}

async function slotFound(service: Service, id: string): Promise<Found> {
  const code = await lotInSlot(service.db, id);
  return code === null ? { href: `/slots/${id}`, lot: null, words: 'A free slot' } : lotFound(code);
}

const rackFound = ({ id, name }: { id: string; name: string }): Found => ({
  href: `/racks/${id}`,
  lot: null,
  words: name,
});

/** The rack of a name; null where there is none. @throws Refusal 409 where several have it */
async function rackNamed(
  { pool }: Service,
  siteId: string,
  text: string,
): Promise<{ id: string; name: string } | null> {
  const { rows } = await pool.query<{ id: string; name: string; tank: string }>(racksNamed, [siteId, text]);
  const [rack] = rows;
  if (rack === undefined) return null;
  if (rows.length === 1) return rack;
  const tanks = rows.map(({ tank }) => `in ${tank}`).join(' and ');
  throw new Refusal(
    `${rows.length} racks are called ${rack.name}: ${tanks}. Scan the label on it, or open it under Racks.`,
    { status: 409, field: 'read' },
  );
}

/** A code, a rack's name, or a rack with a slot: "S2 A3". */
async function wordsFound(service: Service, siteId: string, text: string): Promise<Found> {
  const code = text === '' ? null : await existingCode(service.db, siteId, text);
  if (code !== null) return lotFound(code);
  const [, named = '', slot = ''] = /^(.+?)[\s,]+([A-Za-z]\d{1,2})$/.exec(text) ?? [];
  const of = slot === '' ? null : await rackNamed(service, siteId, named);
  if (of !== null) {
    const { rows } = await service.pool.query<{ id: string }>(slotOfRack, [of.id, slot]);
    if (rows[0] !== undefined) return slotFound(service, rows[0].id);
  }
  const rack = await rackNamed(service, siteId, text);
  if (rack !== null) return rackFound(rack);
  throw new Refusal(
    `Nothing here is called “${text}”. Enter the code of a lot, or a rack and its slot like S2 A3.`,
    { status: 404, field: 'read' },
  );
}
