import pg from 'pg';
import { KeptByMarks } from '../../platform/database/kept-by-marks.ts';
import type { Mark } from '../../platform/database/marks.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { memoize } from '../../platform/memoize.ts';
import { dayOf, daysAfter, daysBefore } from '../../science/numeric/time.ts';
import { lossHistories } from './history.ts';
import { type KindStays, type LossHistory, type Stay, staysByKind } from './usual.rules.ts';

/** What is judged of one system: the stays of its lots by kind, and its losses. */
export interface GatheredHistory {
  kinds: readonly KindStays[];
  deaths: LossHistory['deaths'];
}

/** The same as it is kept, with the time that it covers. */
interface Kept extends GatheredHistory {
  since: Date;
  until: Date;
}

/** What is written of any of these leaves one of these marks; of lots, their ledger and looks those of the systems concerned. */
const staleBy = new Set(['all', 'place', 'lot']);

const isStale = (systemId: string, _: unknown, mark: Mark): boolean =>
  staleBy.has(mark.part) && (mark.systemId === null || mark.systemId === systemId);

/** Systems kept at most; own choice. One of 250 lots takes some 50 kB at most. */
const mostKept = 250;

const keptOf = memoize((pool: pg.Pool) => new KeptByMarks<Kept>(pool, { isStale, most: mostKept }));

/** Read so much further back and ahead than asked, so that what is kept serves the next days too. */
const spareDays = 7;

/**
 * What {@link lossHistories} tells, gathered by kind, of systems with lots. What did not change since it was last asked for
 * is not read again: one query then, for what changed.
 */
export async function gatheredHistories(
  reader: SqlReader,
  systemIds: readonly string[],
  { since, now }: { since: Date; now: Date },
): Promise<Map<string, GatheredHistory>> {
  const until = daysAfter(now, spareDays);
  const asked = { since: daysBefore(since, spareDays), now: until };
  const read = async (ids: readonly string[]) => {
    const found = await lossHistories(reader, ids, asked);
    return new Map(
      ids.map((id): [string, Kept] => {
        const history = found.get(id) ?? { stays: [], deaths: [] };
        return [id, { kinds: staysByKind(history), deaths: history.deaths, since: asked.since, until }];
      }),
    );
  };
  const serves = (kept: Kept) => kept.since <= since && now <= kept.until;
  // A transaction sees what it changed itself, of which no mark tells others yet.
  const kept =
    reader instanceof pg.Pool ? await keptOf(reader).of(systemIds, read, serves) : await read(systemIds);
  return new Map([...kept].map(([id, one]) => [id, within(one, { since, now })]));
}

/** Of what is kept what was there in a time: stays that ended after `since`, losses after it, nothing after `now`. */
function within({ kinds, deaths }: Kept, { since, now }: { since: Date; now: Date }): GatheredHistory {
  const [first, last] = [dayOf(since), dayOf(now)];
  const isWithin = ([fromDay, toDay]: Stay) => fromDay <= last && (toDay === null || toDay > first);
  const cut = <Of extends { stays: readonly Stay[] }>(all: readonly Of[]): Of[] =>
    all.flatMap((one) => {
      if (one.stays.every(isWithin)) return [one];
      const stays = one.stays.filter(isWithin);
      return stays.length === 0 ? [] : [{ ...one, stays }];
    });
  return {
    kinds: kinds
      .map((kind) => ({ ...kind, lots: cut(kind.lots), lost: cut(kind.lost) }))
      .filter(({ lots }) => lots.length > 0),
    deaths: deaths.filter(({ day }) => day > first && day <= last),
  };
}
