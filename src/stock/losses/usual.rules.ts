import { exactTest } from '../../science/scan.ts';
import { binomialInterval, type Interval } from '../../science/statistics/exact-intervals.ts';

/** Which lots stood in one system when, and which of them lost pieces. Times as days since 1970. */
export interface LossHistory {
  stays: readonly {
    lotId: string;
    code: string;
    kindId: string;
    kindName: string;
    fromDay: number;
    /** Null while it stands there. */
    toDay: number | null;
  }[];
  deaths: readonly { id: string; lotId: string; day: number; pieces: number }[];
}

/** From which day to which a lot stood in a system; null while it stands there. */
export type Stay = readonly [fromDay: number, toDay: number | null];

/** The lots of one kind in one system: those that came and went alike are one entry, since only their number counts. */
export interface KindStays {
  kindId: string;
  kindName: string;
  lots: readonly { stays: readonly Stay[]; count: number }[];
  /** Those of them that lost pieces, each by itself. */
  lost: readonly { lotId: string; code: string; stays: readonly Stay[] }[];
}

/** The same by the windows in which they stood: a bit for each, that of the latest lowest. */
interface Stood {
  kindId: string;
  kindName: string;
  /** The day on which the first of them came here. */
  firstDay: number;
  lots: { windows: number; count: number }[];
  lost: { lotId: string; code: string; windows: number }[];
}

/** Days that are compared with as many days before, again and again (own choice: what goes wrong shows within two weeks). */
export const windowDays = 14;
/** The past that is compared with, days: a year has each season once. */
export const pastDays = 364;
/** A farm that has fewer weeks of its own, or fewer lots in them, has no usual yet (own choices). */
const [leastWindows, leastLots] = [4, 20];
/** One or two lots die at any time; from so many on it is asked whether they are more than usual (own choice). */
const fewestLots = 3;

/** The lots that lost pieces of late, against those of the past. */
export interface LossesJudged {
  /** Null: of all kinds. */
  kindId: string | null;
  kindName: string;
  /** Lots that stood here within the window, and those of them that lost pieces. */
  lots: number;
  losing: number;
  /** Codes of those. */
  codes: string[];
  lotIds: string[];
  pieces: number;
  /** The same summed over past windows: each lot counts once a window. */
  pastLots: number;
  pastLosing: number;
  windows: number;
  /** The share of lots that lose pieces in one window, with the exact 95 % interval; null with too little past. */
  now: Interval | null;
  usual: (Interval & { share: number }) | null;
  /** Chance of as many by accident, were losses as usual; null with too little past. */
  p: number | null;
  /** How much more past windows differ than chance alone makes them; 1 where they do not. */
  clumping: number;
}

/** Windows at most: the year, and the one that ends today. */
const mostWindows = 1 + pastDays / windowDays;

/** Two weeks: how many lots stood here within them, and which of those lost pieces. */
interface Window {
  lots: number;
  losing: Set<string>;
}

/**
 * Lots that lost pieces within the last two weeks against those of each two weeks of the past year, of a system and of
 * each kind in it that lost any. Two shares are compared by Fisher's exact test, one-sided; where past windows differ by more than chance,
 * all counts are divided by how much more (quasi-likelihood: Wedderburn 1974, from memory). Nothing is judged on fewer than
 * four past windows or twenty lots in them.
 */
export function judgeLosses(
  history: LossHistory,
  today: number,
): { all: LossesJudged; kinds: LossesJudged[] } {
  return judgeStays(staysByKind(history), history.deaths, today);
}

/** The same of stays that were gathered by kind. */
export function judgeStays(
  kinds: readonly KindStays[],
  deaths: LossHistory['deaths'],
  today: number,
): { all: LossesJudged; kinds: LossesJudged[] } {
  const stood = kinds.map((kind) => stoodOf(kind, today));
  const lately = lostLately(deaths, today);
  const losing = stood.filter(({ lost }) => lost.some(({ lotId }) => lately.has(lotId)));
  return {
    all: { ...judged(stood, deaths, today), kindId: null, kindName: '' },
    kinds: losing
      .map((one) => judged([one], deaths, today))
      .filter(({ losing: own }) => own > 0)
      .sort((a, b) => (a.p ?? 1) - (b.p ?? 1) || b.losing - a.losing),
  };
}

/** The lots that lost pieces in the window that ends today. */
const lostLately = (deaths: LossHistory['deaths'], today: number): Set<string> =>
  new Set(deaths.flatMap(({ lotId, day }) => (windowAt(day, today) === 0 ? [lotId] : [])));

/** The system without some kinds: whether what is left is above usual too. */
export function judgeWithout(
  history: LossHistory,
  kindIds: ReadonlySet<string>,
  today: number,
): LossesJudged {
  const kept = staysByKind(history).filter(({ kindId }) => !kindIds.has(kindId));
  const stood = kept.map((kind) => stoodOf(kind, today));
  return { ...judged(stood, history.deaths, today), kindId: null, kindName: '' };
}

/** Whether it is more than usual, at a chance of `limit` for as much by accident. */
export const isAboveUsual = ({ p, losing, lots, usual }: LossesJudged, limit: number): boolean =>
  p !== null && p < limit && losing >= fewestLots && usual !== null && losing / lots > 2 * usual.share;

function judged(stood: readonly Stood[], deaths: LossHistory['deaths'], today: number): LossesJudged {
  const of = { kindId: stood[0]?.kindId ?? null, kindName: stood[0]?.kindName ?? '' };
  const [recent, ...past] = windowsOf(stood, deaths, today);
  const lots = recent?.lots ?? 0;
  const losing = recent?.losing.size ?? 0;
  const pastLots = sum(past, ({ lots: at }) => at);
  const pastLosing = sum(past, ({ losing: lost }) => lost.size);
  const lotIds = [...(recent?.losing ?? [])];
  const codeOf = new Map(stood.flatMap(({ lost }) => lost.map(({ lotId, code }) => [lotId, code] as const)));
  const counted = {
    ...{ lots, losing, pastLots, pastLosing, windows: past.length, lotIds },
    codes: lotIds.map((id) => codeOf.get(id) ?? '').sort(),
    pieces: sum(
      deaths.filter(({ lotId, day }) => recent?.losing.has(lotId) && day > today - windowDays),
      ({ pieces }) => pieces,
    ),
  };
  const unknown = { now: null, usual: null, p: null, clumping: 1 };
  if (past.length < leastWindows || pastLots < leastLots || lots === 0)
    return { ...of, ...counted, ...unknown };
  const clumping = clumpingOf(past);
  const scaled = (count: number) => Math.floor(count / clumping);
  const split = {
    affectedIn: scaled(losing),
    totalIn: Math.max(scaled(losing), Math.round(lots / clumping)),
    affectedOut: Math.ceil(pastLosing / clumping),
    totalOut: Math.max(Math.ceil(pastLosing / clumping), Math.round(pastLots / clumping)),
  };
  return {
    ...of,
    ...counted,
    now: binomialInterval(losing, lots),
    usual: { share: pastLosing / pastLots, ...binomialInterval(pastLosing, pastLots) },
    p: losing === 0 ? 1 : exactTest(split).greater,
    clumping,
  };
}

/** The number of the window that a day lies in: 0 is the one that ends today. */
const windowAt = (day: number, today: number) => Math.floor((today - day) / windowDays);

/** The windows that end today, the latest first, as far back as lots stood here the whole window long. */
function windowsOf(stood: readonly Stood[], deaths: LossHistory['deaths'], today: number): Window[] {
  const first = stood.reduce(
    (earliest, { firstDay }) => Math.min(earliest, firstDay),
    Number.POSITIVE_INFINITY,
  );
  // The window that ends today counts what stands here, also where no other is whole yet.
  const count = stood.length === 0 ? 0 : Math.max(1, Math.min(mostWindows, windowAt(first, today)));
  const reached = 2 ** count - 1;
  const windows = Array.from({ length: count }, (): Window => ({ lots: 0, losing: new Set() }));
  for (const { lots } of stood)
    for (const { windows: bits, count: alike } of lots)
      for (let left = bits & reached; left !== 0; left &= left - 1) {
        const window = windows[31 - Math.clz32(left & -left)];
        if (window !== undefined) window.lots += alike;
      }
  const bitsOf = new Map(
    stood.flatMap(({ lost }) => lost.map(({ lotId, windows: bits }) => [lotId, bits] as const)),
  );
  for (const { lotId, day } of deaths) {
    const at = windowAt(day, today);
    if (((bitsOf.get(lotId) ?? 0) & reached & (1 << at)) !== 0) windows[at]?.losing.add(lotId);
  }
  return windows;
}

/** The windows in which a lot stood, as bits. */
function windowsOfStays(stays: readonly Stay[], today: number): number {
  let windows = 0;
  for (const [fromDay, toDay] of stays) {
    const latest = Math.max(0, windowAt(toDay ?? today, today));
    const earliest = Math.min(windowAt(fromDay, today), mostWindows - 1);
    if (latest <= earliest) windows |= 2 ** (earliest + 1) - 2 ** latest;
  }
  return windows;
}

function stoodOf({ kindId, kindName, lots, lost }: KindStays, today: number): Stood {
  let firstDay = Number.POSITIVE_INFINITY;
  for (const { stays } of lots) for (const [fromDay] of stays) firstDay = Math.min(firstDay, fromDay);
  return {
    ...{ kindId, kindName, firstDay },
    lots: lots.map(({ stays, count }) => ({ windows: windowsOfStays(stays, today), count })),
    lost: lost.map(({ stays, ...lot }) => ({ ...lot, windows: windowsOfStays(stays, today) })),
  };
}

/** A history by kind, in the order in which their first lots came. */
export function staysByKind({ stays, deaths }: LossHistory): KindStays[] {
  const died = new Set(deaths.map(({ lotId }) => lotId));
  return [...Map.groupBy(stays, ({ kindId }) => kindId)].map(([kindId, own]) => {
    const byLot = Map.groupBy(own, ({ lotId }) => lotId);
    const lots = new Map<string, { stays: Stay[]; count: number }>();
    const lost: { lotId: string; code: string; stays: Stay[] }[] = [];
    for (const [lotId, of] of byLot) {
      const all = of.map(({ fromDay, toDay }): Stay => [fromDay, toDay]);
      const alike = lots.get(all.join()) ?? { stays: all, count: 0 };
      alike.count += 1;
      lots.set(all.join(), alike);
      if (died.has(lotId)) lost.push({ lotId, code: of.at(-1)?.code ?? '', stays: alike.stays });
    }
    return { kindId, kindName: own[0]?.kindName ?? '', lots: [...lots.values()], lost };
  });
}

/**
 * Pearson's chi-square of past windows over their number, at least 1. The worst window is left out, so that one outbreak of
 * the past does not hide the next.
 */
function clumpingOf(past: readonly Window[]): number {
  const worst = past.reduce((a, b) => (b.losing.size > a.losing.size ? b : a), past[0] as Window);
  const others = past.filter((window) => window !== worst && window.lots > 0);
  const share = sum(others, ({ losing }) => losing.size) / sum(others, ({ lots }) => lots);
  if (!(share > 0) || others.length < 2) return 1;
  const chi = sum(others, ({ lots, losing }) => {
    const expected = lots * share;
    return (losing.size - expected) ** 2 / (expected * (1 - share));
  });
  return Math.max(1, chi / (others.length - 1));
}

const sum = <T>(items: readonly T[], of: (item: T) => number): number =>
  items.reduce((total, item) => total + of(item), 0);
