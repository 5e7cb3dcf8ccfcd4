import { inRange, wholeNumber } from '../numeric/range.ts';
import { type Random, seededRandom, shuffleFirst } from '../statistics/random.ts';
import { checkedSplit, exactTest, type Split } from './exact.ts';

/**
 * Log likelihood ratio of "the affected are more frequent inside" to "equally frequent", 0 where they are not.
 *
 * Kulldorff 1997, Bernoulli model.
 */
export function bernoulliLogRatio(split: Split): number {
  const { affectedIn, totalIn, affectedOut, totalOut } = checkedSplit(split);
  return logRatio(affectedIn, totalIn, affectedIn + affectedOut, totalIn + totalOut);
}

/** One member (a lot): affected or not, and where it belongs by each way of grouping (rack, kind, last change...). */
export interface Member {
  affected: boolean;
  groups: Readonly<Record<string, string | null | undefined>>;
}

/** One group and how it stands out. */
export interface Cluster extends Split {
  /** Way of grouping and name of the group. */
  by: string;
  name: string;
  /** Other groups of exactly the same members, which cannot be told apart from this one. */
  same: { by: string; name: string }[];
  logRatio: number;
  /** Probability that chance makes any group stand out as much (all groups searched are allowed for). */
  p: number;
  /** Exact probability for this group alone, as if it had been named beforehand. */
  pAlone: number;
}

export interface ScanOptions {
  /** Random orders tried; p is never below 1/(orders + 1). */
  orders?: number;
  seed?: number;
  /** Groups smaller than this are not searched. */
  smallest?: number;
  /** From which p on nothing stands out. */
  limit?: number;
}

export interface Scan {
  /** All groups with more affected inside than outside, strongest first. */
  clusters: Cluster[];
  /** The strongest where chance makes one like it in fewer than 1 in 20 cases (or than `limit`), else null: no grouping stands out. */
  best: Cluster | null;
  affected: number;
  total: number;
}

const LIMIT = 0.05;

/**
 * Which grouping explains best who is affected? Compares each group with all others by Kulldorff's Bernoulli scan
 * statistic, and the strongest with the strongest when the affected are dealt out at random (999 orders, seeded). A
 * member without a name in some way of grouping belongs to no group of it.
 *
 * Kulldorff 1997; Monte Carlo p by Dwass 1957: (1 + number as strong)/(1 + orders). A group that stands out is where to
 * look first, not a cause: groups overlap, and `same` names those of the same members.
 */
export function scanGroups(members: readonly Member[], options: ScanOptions = {}): Scan {
  const { orders = 999, seed = 1, smallest = 2, limit = LIMIT } = options;
  wholeNumber(orders, 19, 99_999, 'number of random orders');
  inRange(smallest, 1, Number.MAX_SAFE_INTEGER, 'smallest group');
  const total = members.length;
  const affected = members.flatMap((member, i) => (member.affected ? [i] : []));
  const zones = findZones(members, smallest);
  const observed = ratios(zones, countIn(zones, total)(affected), affected.length, total);
  const highest = randomMaxima(zones, affected.length, total, orders, seededRandom(seed));
  const counts = countIn(zones, total)(affected);
  const clusters = zones
    .map((zone, i) => clusterOf(zone, counts[i] ?? 0, affected.length, total, observed[i] ?? 0, highest))
    .filter(({ logRatio: ratio }) => ratio > 0)
    .sort((a, b) => b.logRatio - a.logRatio || a.by.localeCompare(b.by) || a.name.localeCompare(b.name));
  const [first] = clusters;
  return { clusters, best: first && first.p < limit ? first : null, affected: affected.length, total };
}

interface Zone {
  names: { by: string; name: string }[];
  members: number[];
}

/** All groups of some, not all, members; groups of the same members are one zone. */
function findZones(members: readonly Member[], smallest: number): Zone[] {
  const groups = new Map<string, Zone>();
  for (const [i, { groups: names }] of members.entries()) {
    for (const [by, name] of Object.entries(names)) {
      if (name === null || name === undefined) continue;
      const key = JSON.stringify([by, name]);
      const zone = groups.get(key) ?? { names: [{ by, name }], members: [] };
      zone.members.push(i);
      groups.set(key, zone);
    }
  }
  const zones = new Map<string, Zone>();
  for (const zone of groups.values()) {
    if (zone.members.length < smallest || zone.members.length === members.length) continue;
    const key = zone.members.join();
    const known = zones.get(key);
    if (known) known.names.push(...zone.names);
    else zones.set(key, zone);
  }
  return [...zones.values()];
}

/** A function that counts, for each zone, how many of the given members lie in it. */
function countIn(zones: readonly Zone[], total: number): (chosen: readonly number[]) => Int32Array {
  const zonesOf: number[][] = Array.from({ length: total }, () => []);
  for (const [z, zone] of zones.entries()) for (const member of zone.members) zonesOf[member]?.push(z);
  const counts = new Int32Array(zones.length);
  return (chosen) => {
    counts.fill(0);
    for (const member of chosen) for (const z of zonesOf[member] ?? []) counts[z] = (counts[z] ?? 0) + 1;
    return counts;
  };
}

function ratios(zones: readonly Zone[], counts: Int32Array, affected: number, total: number): number[] {
  return zones.map((zone, i) => logRatio(counts[i] ?? 0, zone.members.length, affected, total));
}

/** The strongest ratio of each random order, ascending. */
function randomMaxima(
  zones: readonly Zone[],
  affected: number,
  total: number,
  orders: number,
  random: Random,
) {
  const count = countIn(zones, total);
  const deck = Array.from({ length: total }, (_, i) => i);
  const maxima = new Float64Array(orders);
  for (let order = 0; order < orders; order++) {
    shuffleFirst(deck, affected, random);
    const counts = count(deck.slice(0, affected));
    maxima[order] = Math.max(0, ...ratios(zones, counts, affected, total));
  }
  return maxima.sort();
}

function clusterOf(
  zone: Zone,
  affectedIn: number,
  affected: number,
  total: number,
  ratio: number,
  highest: Float64Array,
): Cluster {
  const [{ by, name } = { by: '', name: '' }, ...same] = zone.names;
  const totalIn = zone.members.length;
  const split = { affectedIn, totalIn, affectedOut: affected - affectedIn, totalOut: total - totalIn };
  // A ratio that differs only by rounding is as strong.
  const asStrong = highest.filter((m) => m >= ratio - 1e-9).length;
  const p = (1 + asStrong) / (1 + highest.length);
  return { by, name, same, ...split, logRatio: ratio, p, pAlone: exactTest(split).greater };
}

function logRatio(c: number, n: number, C: number, N: number): number {
  if (n === 0 || n === N || c / n <= (C - c) / (N - n)) return 0;
  return entropy(c, n) + entropy(C - c, N - n) - entropy(C, N);
}

/** Log likelihood of c affected among n at the rate c/n. */
function entropy(c: number, n: number): number {
  const part = (k: number) => (k > 0 ? k * Math.log(k / n) : 0);
  return part(c) + part(n - c);
}
