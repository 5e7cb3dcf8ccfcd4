import { type TimeChart, timeChart } from '../../platform/charts/time-chart.ts';
import { plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import type { LotRecord } from './record.ts';

/** Photos in the strip of a lot's life, the newest at its right; own choice. */
const STRIP = 6;

/** A lot's life: photographs in order of time, and its pieces as they grew fewer or more. */
export function life(record: LotRecord, timeZone: string, now: Date) {
  const { lot, photos, counts } = record;
  const strip = photos
    .slice(0, STRIP)
    .toReversed()
    .map(({ id, takenAt }) => ({ href: `/photos/${id}`, on: dateWords(takenAt, timeZone) }));
  const from = counts[0]?.at;
  if (from === undefined) return { strip, pieces: null };
  const steps = counts.map(({ at, left }) => ({ at, value: left }));
  const most = Math.max(...counts.map(({ left }) => left));
  const chart: TimeChart = {
    label: `${plural(lot.pieces, 'piece', 'pieces')} now, ${plural(most, 'piece', 'pieces')} at most.`,
    ...{ from, to: now, timeZone, points: [] },
    isCount: true,
    courses: [{ mark: 'line gets', stepped: true, points: [...steps, { at: now, value: lot.pieces }] }],
    events: counts.slice(1).map(({ at, change }) => ({ at, kind: change < 0 ? 'tall' : 'short' })),
  };
  const draw = (width: number) => timeChart({ ...chart, width, height: 200 });
  return { strip, pieces: counts.length < 2 ? null : { wide: draw(960), narrow: draw(360) } };
}
