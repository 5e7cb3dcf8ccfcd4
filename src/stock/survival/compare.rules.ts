import { seededRandom, shuffleFirst } from '../../science/statistics/random.ts';
import {
  type Followed,
  kaplanMeier,
  logRank,
  lossScores,
  type Survival,
  survivalAt,
} from '../../science/survival.ts';

/** A cut with its pieces and what it can be compared by. */
export interface ComparedCut {
  pieces: readonly Followed[];
  /** By the code of a grouping; '' where it is not known. */
  of: Readonly<Record<GroupingCode, string>>;
}

/** What cuts are compared by, in the order of the page. */
export const GROUPINGS = {
  tool: 'Tool',
  method: 'Method',
  hand: 'Who cut it',
  kind: 'Kind',
  donor: 'Mother',
  size: 'Size of the pieces',
  rack: 'Rack after the cut',
} as const;

export type GroupingCode = keyof typeof GROUPINGS;
export const GROUPING_CODES = Object.keys(GROUPINGS) as GroupingCode[];

/** Sizes of new pieces, mm (own choice). */
export function sizeClass(sizeMm: number | null): string {
  if (sizeMm === null) return '';
  if (sizeMm < 15) return 'under 15 mm';
  if (sizeMm < 25) return '15 to 24 mm';
  return sizeMm < 40 ? '25 to 39 mm' : '40 mm and more';
}

/** A group says something from these pieces followed on, a comparison from these losses on (own choice). */
export const LEAST_PIECES = 10;
const LEAST_LOSSES = 5;
/** Shufflings of the cuts, and the chance of a false word that is taken, over all that is compared (own choice). */
const SHUFFLES = 1999;
const CHANCE = 0.05;

/** Days for which survival is told. */
export const TOLD_DAYS = [7, 30, 90] as const;

export interface GroupSurvival {
  name: string;
  cuts: number;
  pieces: number;
  /** Pieces of which anything is known after the cut. */
  followed: number;
  lost: number;
  /** Days after the cut up to which any of them was followed. */
  until: number;
  curve: Survival;
  /** At each of TOLD_DAYS; null where too few were followed so long. */
  at: ({ survival: number; low: number | null; high: number | null } | null)[];
  tooFew: boolean;
}

const followedOf = (pieces: readonly Followed[]) => pieces.filter(({ time }) => time > 0);

/** Fewer than these still followed at a day: survival is not told for it (own choice). */
const LEAST_AT_RISK = 5;

/** Survival of the pieces of some cuts, taken together. */
export function survivalOf(name: string, cuts: readonly ComparedCut[]): GroupSurvival {
  const all = cuts.flatMap(({ pieces }) => pieces);
  const followed = followedOf(all);
  const curve = kaplanMeier(followed);
  return {
    name,
    cuts: cuts.length,
    pieces: all.length,
    followed: followed.length,
    lost: curve.lost,
    until: Math.max(0, ...followed.map(({ time }) => time)),
    curve,
    at: TOLD_DAYS.map((day) =>
      followed.filter(({ time }) => time >= day - 1).length < LEAST_AT_RISK ? null : survivalAt(curve, day),
    ),
    tooFew: followed.length < LEAST_PIECES,
  };
}

/** The groups of a grouping, those with most pieces first; what is not known makes none. */
export function groupsOf(
  cuts: readonly ComparedCut[],
  by: GroupingCode,
): { name: string; cuts: ComparedCut[] }[] {
  return [...Map.groupBy(cuts, ({ of }) => of[by])]
    .filter(([name]) => name !== '')
    .map(([name, group]) => ({ name, cuts: group }))
    .sort((a, b) => count(b.cuts) - count(a.cuts) || a.name.localeCompare(b.name));
}

const count = (cuts: readonly ComparedCut[]) => cuts.reduce((sum, { pieces }) => sum + pieces.length, 0);

/** Whether the groups differ by the log-rank test; null where there is too little to say. */
export function logRankOf(groups: readonly GroupSurvival[], cuts: readonly { cuts: ComparedCut[] }[]) {
  const told = cuts.filter((_, i) => groups[i]?.tooFew === false);
  const pieces = told.map((group) => followedOf(group.cuts.flatMap((cut) => cut.pieces)));
  if (told.length < 2 || told.length > 100) return null;
  if (pieces.flat().filter(({ lost }) => lost).length < LEAST_LOSSES) return null;
  return logRank(pieces);
}

/** A group that loses more of its pieces than the rest. */
export interface StandsOut {
  by: GroupingCode;
  name: string;
  cuts: number;
  lost: number;
  expected: number;
  /** Chance of so large a share of the losses if cuts were dealt out at random, over all that was compared. */
  p: number;
  /** Other groups that hold the same cuts: they cannot be told apart. */
  same: { by: GroupingCode; name: string }[];
}

/**
 * The group that loses more than the rest and more than chance gives: groups by all groupings are tried, cuts (not pieces,
 * which share their cut's fate) are shuffled, and the chance counts the best of all groups in each shuffling (Westfall &
 * Young 1993, the largest statistic; from memory).
 * @returns null where none stands out, `tooFew` where too little was lost or followed to say
 */
export function standsOut(
  cuts: readonly ComparedCut[],
  seed = 1,
): { found: StandsOut | null; tooFew: boolean } {
  const told = cuts.filter(({ pieces }) => followedOf(pieces).length > 0);
  const all = told.map(({ pieces }) => followedOf(pieces));
  const lost = all.flat().filter((piece) => piece.lost).length;
  if (all.flat().length < 2 * LEAST_PIECES || lost < LEAST_LOSSES || told.length < 6)
    return { found: null, tooFew: true };
  const scores = lossScores(all.flat());
  let next = 0;
  const scoreOf = all.map((pieces) => pieces.reduce((sum) => sum + (scores[next++] ?? 0), 0));
  const groups = triedGroups(told, all);
  if (groups.length === 0) return { found: null, tooFew: true };
  const spread = Math.sqrt(scoreOf.reduce((sum, score) => sum + score ** 2, 0) / told.length) || 1;
  const statistic = (members: readonly number[], of: readonly number[]) => {
    const sum = members.reduce((total, i) => total + (of[i] ?? 0), 0);
    return sum / (spread * Math.sqrt((members.length * (told.length - members.length)) / told.length));
  };
  const best = (of: readonly number[]) => Math.max(...groups.map(({ members }) => statistic(members, of)));
  const seen = best(scoreOf);
  const random = seededRandom(seed);
  let [asLarge, shuffled] = [0, [...scoreOf]];
  for (let i = 0; i < SHUFFLES; i++) {
    shuffled = [...scoreOf];
    shuffleFirst(shuffled, shuffled.length, random);
    if (best(shuffled) >= seen - 1e-12) asLarge += 1;
  }
  const p = (asLarge + 1) / (SHUFFLES + 1);
  if (p > CHANCE) return { found: null, tooFew: false };
  return { found: namedOf(groups, statistic, scoreOf, seen, { all, p }), tooFew: false };
}

interface Tried {
  by: GroupingCode;
  name: string;
  /** Positions of its cuts. */
  members: number[];
}

/** Groups that can be told from the rest: enough pieces within and without, and two cuts at least. */
function triedGroups(cuts: readonly ComparedCut[], followed: readonly (readonly Followed[])[]): Tried[] {
  const size = (members: readonly number[]) =>
    members.reduce((sum, i) => sum + (followed[i]?.length ?? 0), 0);
  const all = size(cuts.map((_, i) => i));
  return GROUPING_CODES.flatMap((by) =>
    [...Map.groupBy(cuts.keys(), (i) => cuts[i]?.of[by] ?? '')].map(([name, members]) => ({
      by,
      name,
      members,
    })),
  ).filter(
    ({ name, members }) =>
      name !== '' &&
      members.length >= 2 &&
      size(members) >= LEAST_PIECES &&
      all - size(members) >= LEAST_PIECES,
  );
}

function namedOf(
  groups: readonly Tried[],
  statistic: (members: readonly number[], of: readonly number[]) => number,
  scores: readonly number[],
  seen: number,
  { all, p }: { all: readonly (readonly Followed[])[]; p: number },
): StandsOut | null {
  const first = groups.find(({ members }) => statistic(members, scores) >= seen - 1e-12);
  if (first === undefined) return null;
  const { by, name, members } = first;
  const key = members.join();
  const lost = members.flatMap((i) => all[i] ?? []).filter((piece) => piece.lost).length;
  const score = members.reduce((sum, i) => sum + (scores[i] ?? 0), 0);
  return {
    ...{ by, name, lost, p, cuts: members.length, expected: lost - score },
    same: groups
      .filter((other) => other !== first && other.members.join() === key)
      .map((other) => ({ by: other.by, name: other.name })),
  };
}
