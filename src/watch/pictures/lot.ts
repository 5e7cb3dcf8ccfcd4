import type pg from 'pg';
import type { Alert } from '../../alerts/alerts.ts';
import type { Service } from '../../platform/service.ts';
import { lightChart } from '../../stock/lot-page/light-chart.ts';
import { lotRecord } from '../../stock/lot-page/record.ts';
import { type FoundLot, findLot } from '../../stock/lots/lots.ts';
import type { AlertPicture, Clock, Drawing, PicturePhoto } from './picture.ts';
import { rackPicture } from './racks.ts';

const photoQuery = `
  SELECT id, taken_at AS "takenAt", note, EXISTS (SELECT FROM rack_photograph_lot WHERE photo_id = photo.id) AS "ofRack" FROM photo
   WHERE lot_id = $1 AND voided_at IS NULL ORDER BY taken_at`;

/** A lot: its first and last photograph, where it stands, and the light it got. */
export async function lotPicture(
  service: Service,
  alert: Alert,
  explains: readonly Alert[],
  clock: Clock,
): Promise<AlertPicture> {
  const [lot, place, photos] = await Promise.all([
    findLot(service.db, alert.subjectId),
    rackPicture(service, alert, explains, clock),
    photosOf(service.pool, alert.subjectId),
  ]);
  const light = await lightOf(service, lot, clock);
  return {
    ...place,
    drawings: [...place.drawings, ...light],
    photos: { code: lot.code, ...pairOf(photos, alert) },
  };
}

type TakenPhoto = PicturePhoto & { ofRack: boolean };

const photosOf = async (pool: pg.Pool, lotId: string): Promise<TakenPhoto[]> =>
  (await pool.query<TakenPhoto>(photoQuery, [lotId])).rows;

/**
 * The last photograph from before the alert (else the first), and the newest where that is another. What photographs of a
 * rack opened is shown by these alone, from before it began.
 */
function pairOf(all: readonly TakenPhoto[], { rule, openedAt, finding: { began } }: Alert) {
  const isByRack = rule === 'lightening' && began !== null;
  const photos = isByRack ? all.filter(({ ofRack }) => ofRack) : all;
  const before = isByRack ? new Date(Date.parse(began.from) + 1) : openedAt;
  const then = photos.findLast(({ takenAt }) => takenAt < before) ?? photos[0] ?? null;
  const newest = photos.at(-1) ?? null;
  return { then, last: newest?.id === then?.id ? null : newest };
}

async function lightOf(service: Service, lot: FoundLot, { timeZone, now }: Clock): Promise<Drawing[]> {
  const chart = lightChart(
    await lotRecord(service, lot, { page: 1, perPage: 1, timeZone }, []),
    timeZone,
    now,
  );
  if (chart === null) return [];
  return [
    {
      wide: chart.wide,
      narrow: chart.narrow,
      says: 'Its light day by day: thick what it gets, thin what it is used to, dashed what it can take.',
    },
  ];
}
