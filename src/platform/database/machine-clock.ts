import type pg from 'pg';
import { dateWords } from '../words/times.ts';
import { migrationNames } from './migrations.ts';

/** Clocks of the places where a migration was made and where it runs lie at most so far apart. */
const slackMs = 2 * 86_400_000;

const latestLine = 'SELECT max(at) AS at FROM journal_line';

/** When a migration was made, by its name ("20261129113900_what_it_does"), to the day. */
const madeAt = (name: string) =>
  Date.parse(`${name.slice(0, 4)}-${name.slice(4, 6)}-${name.slice(6, 8)}T00:00:00Z`);

const said = (now: number) => `This machine’s clock says ${dateWords(new Date(now), 'UTC')}`;
const set = 'Set the date and time before anything is entered: every entry carries its time.';

/** @throws Error with a sentence where the clock stands before 1970: nothing can be kept under such a time */
export function holdToClock(now: Date): void {
  if (now.getTime() < slackMs)
    throw new Error(`${said(now.getTime())}. Set the date and time, then start again.`);
}

/** What speaks against this machine's clock, in a sentence each; nothing where nothing does. One query. */
export async function clockDoubts(pool: pg.Pool, now: Date): Promise<string[]> {
  const made = madeAt((await migrationNames()).at(-1) ?? '');
  const { rows } = await pool.query<{ at: Date | null }>(latestLine);
  const latest = rows[0]?.at ?? null;
  const doubts: string[] = [];
  if (now.getTime() < made - slackMs)
    doubts.push(`${said(now.getTime())}, which is before this version of Evenwater was made. ${set}`);
  if (latest !== null && latest.getTime() > now.getTime() + slackMs)
    doubts.push(
      `${said(now.getTime())}, and the newest entry is of ${dateWords(latest, 'UTC')}: one of the two is wrong. ${set}`,
    );
  return doubts;
}
