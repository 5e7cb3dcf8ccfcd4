import { z } from 'zod';

// Sensor Measurement Lists, RFC 8428. Values other than numbers say nothing of water and are passed over.

const base = {
  bn: z.string(),
  bt: z.number(),
  bu: z.string(),
  bv: z.number(),
  bs: z.number(),
  bver: z.number(),
};
const own = {
  n: z.string(),
  u: z.string(),
  v: z.number(),
  vs: z.string(),
  vb: z.boolean(),
  vd: z.string(),
  s: z.number(),
  t: z.number(),
  ut: z.number(),
};

/** One record as it is sent. Fields that nobody knows are allowed, unless their name ends with "_" (section 4.4). */
const record = z.looseObject({ ...base, ...own }).partial();

/** The most records one pack may hold. */
export const mostRecords = 5000;

export const packSchema = z
  .array(record, { error: 'Send a SenML pack: a list of records (RFC 8428).' })
  .min(1, 'The pack is empty.')
  .max(mostRecords, `At most ${mostRecords} records at once.`);

type Pack = z.output<typeof packSchema>;

/** A record with its base values worked in (section 4.6). `t` is Unix time in seconds. */
export interface ResolvedRecord {
  n: string;
  u: string | null;
  t: number;
  v: number;
  /** It states when it was measured; false where its time is that of its arrival, or reckoned from it. */
  timed: boolean;
  /** What is to be known of its time, kept with the reading. */
  note?: string;
}

/** The version of SenML that is understood. */
const version = 10;
/** Below this a time is relative to now (section 4.5.3). */
const relative = 2 ** 28;
/** The longest name that is kept (own choice). */
const longestName = 300;
const nameShape = /^[A-Za-z0-9][A-Za-z0-9\-:./_]*$/;
const known = new Set([...Object.keys(base), ...Object.keys(own)]);

/**
 * Works the base values of a pack into its records, in the order they came. `now` is in seconds.
 * @returns the records that hold a number, or why the pack cannot be used
 */
export function resolvePack(pack: Pack, now: number): { records: ResolvedRecord[] } | { fault: string } {
  const bases = { bn: '', bt: 0, bu: null as string | null, bv: 0, bver: version };
  const records: ResolvedRecord[] = [];
  let versions = 0;
  for (const [i, one] of pack.entries()) {
    const unknown = Object.keys(one).find((field) => field.endsWith('_') && !known.has(field));
    if (unknown !== undefined)
      return { fault: `Record ${i + 1} has the field "${unknown}", which must be understood and is not.` };
    if (one.bver !== undefined) {
      if (versions > 0 && one.bver !== bases.bver)
        return { fault: 'The records state different versions of SenML.' };
      bases.bver = one.bver;
      versions += 1;
    }
    if (bases.bver > version)
      return { fault: `SenML version ${bases.bver} is not understood; ${version} is.` };
    bases.bn = one.bn ?? bases.bn;
    bases.bt = one.bt ?? bases.bt;
    bases.bu = one.bu ?? bases.bu;
    bases.bv = one.bv ?? bases.bv;
    const n = bases.bn + (one.n ?? '');
    if (one.v === undefined) continue;
    if (!nameShape.test(n))
      return {
        fault: `Record ${i + 1} has ${n === '' ? 'no name' : `the name "${n}", which is not a SenML name`}.`,
      };
    if (n.length > longestName)
      return { fault: `Record ${i + 1} has a name of more than ${longestName} characters.` };
    const time = bases.bt + (one.t ?? 0);
    const timed = time >= relative;
    records.push({ n, u: one.u ?? bases.bu, t: timed ? time : now + time, v: bases.bv + one.v, timed });
  }
  return { records };
}
