import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { lotHref } from '../../stock/base/lot-href.ts';
import { existingCode } from '../../stock/lots/lots.ts';
import { lotInSlot } from '../../stock/places/slots.ts';
import { readScan } from './scan.rules.ts';

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

const rackNamed = `
  SELECT rack.id, rack.name FROM rack JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
   WHERE system.site_id = $1 AND (rack.id::text = $2 OR lower(rack.name) IN (lower($2), lower('rack ' || $2)))
   ORDER BY system.retired_at IS NOT NULL, rack.name LIMIT 1`;

const slotNamed = `
  SELECT slot.id FROM slot JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
   WHERE system.site_id = $1 AND lower(rack.name) IN (lower($2), lower('rack ' || $2))
     AND chr(64 + slot.row) || slot."column" = upper($3) AND slot.row <= rack.rows AND slot."column" <= rack.columns
   ORDER BY system.retired_at IS NOT NULL LIMIT 1`;

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
      throw new Refusal(`This code is not one of this farm, and is not opened: ${scan.address}`, {
        field: 'read',
      });
    case 'list':
      return { href: scan.path, lot: null, words: 'A printed list' };
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
    case 'slot':
      return slotFound(service, scan.id);
    case 'rack':
      return rackFound(service, siteId, scan.id);
    default:
      return wordsFound(service, siteId, scan.text);
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

async function rackFound(service: Service, siteId: string, idOrName: string): Promise<Found> {
  const { rows } = await service.pool.query<{ id: string; name: string }>(rackNamed, [siteId, idOrName]);
  const [rack] = rows;
  if (rack === undefined) throw notFound('This rack');
  return { href: `/racks/${rack.id}`, lot: null, words: rack.name };
}

/** A code, a rack's name, or a rack with a slot: "S2 A3". */
async function wordsFound(service: Service, siteId: string, text: string): Promise<Found> {
  const code = text === '' ? null : await existingCode(service.db, siteId, text);
  if (code !== null) return lotFound(code);
  const [, rack = '', slot = ''] = /^(.+?)[\s,]+([A-Za-z]\d{1,2})$/.exec(text) ?? [];
  if (slot !== '') {
    const { rows } = await service.pool.query<{ id: string }>(slotNamed, [siteId, rack, slot]);
    if (rows[0] !== undefined) return slotFound(service, rows[0].id);
  }
  return rackFound(service, siteId, text).catch(() => {
    throw new Refusal(
      `Nothing here is called “${text}”. Enter the code of a lot, or a rack and its slot like S2 A3.`,
      {
        status: 404,
        field: 'read',
      },
    );
  });
}
