import type { Cluster, Scan } from '../../science/scan.ts';
import type { ComparedMember, Sign } from './members.rules.ts';

/** A grouping that stands out, as it is kept for the watch. Times are ISO 8601. */
export interface SharedResult {
  sign: Sign;
  days: number;
  by: string;
  name: string;
  /** Other groupings of the same lots. */
  same: { by: string; name: string }[];
  affectedIn: number;
  totalIn: number;
  affectedOut: number;
  totalOut: number;
  p: number;
  /** The affected lots of the group, and the system that most of them stood in. */
  lots: { id: string; code: string; firstSeen: string }[];
  systemId: string;
  /** The racks they stood on, and the lamps above where turning these is what they share; null where it is not. */
  rackIds: string[];
  lampId: string | null;
}

/**
 * From this chance on nothing stands out (own choice, held to at most 5 false names in 100 comparisons). Lots of one rack or
 * colony fare alike even without an outbreak, so that chance names something more often than it says: in 1,200 rough made-up
 * farms with nothing to find 6.0 % were named something at 0.05, 3.3 % at 0.03, 1.9 % at 0.02 and 0.9 % (0.5 to 1.6) at 0.01
 * (npm run bench:losses). Each site is compared for two signs, which about doubles that.
 */
export const standsOut = 0.01;

/** Fewer affected lots are compared with nothing: one or two share something by accident (own choice). */
export const fewestAffected = 3;

/** Each way of grouping as it is named before its groups. */
export const groupingWords: Readonly<Record<string, string>> = {
  system: 'System',
  tank: 'Tank',
  rack: 'Rack',
  light: 'Light',
  flow: 'Flow',
  kit: 'Tested with kit',
  kind: 'Kind',
  group: 'Group of kinds',
  origin: 'Origin',
  delivery: 'Delivery',
  mother: 'Cut from',
  'cut batch': 'Cut batch',
  'cut by': 'Cut by',
  'moved by': 'Moved by',
  lamps: 'Lamps turned',
  moved: 'Moved',
  water: 'Done to the water',
  bath: 'Bath',
};

/**
 * Of groupings of the same lots the one that is told: what was done to them first, since that can be undone, then what they
 * are, then where they stand (own choice of words, not of evidence: all are named).
 */
const tellingOrder = [
  ...[
    'bath',
    'cut batch',
    'lamps',
    'moved',
    'delivery',
    'water',
    'cut by',
    'moved by',
    'mother',
    'kind',
    'origin',
  ],
  ...['rack', 'light', 'flow', 'tank', 'system', 'kit', 'group'],
];

/** The names of a group of lots, the most telling first. */
export function namesOf({
  by,
  name,
  same,
}: Pick<Cluster, 'by' | 'name' | 'same'>): { by: string; name: string }[] {
  return [{ by, name }, ...same].sort((a, b) => tellingOrder.indexOf(a.by) - tellingOrder.indexOf(b.by));
}

/**
 * Groupings whose likelihood is within a factor of e of the best one's: by what was seen they explain it about as well, and
 * none is named above the others (own choice).
 */
const asGood = 1;

/** The other groupings that explain it about as well as the best; empty where it stands alone. */
export const rivalsOf = ({ best, clusters }: Scan): Cluster[] =>
  best === null ? [] : clusters.filter((one) => one !== best && best.logRatio - one.logRatio < asGood);

/** What a comparison found, as it is kept; nothing where no grouping stands out, or too few lots are affected. */
export function resultOf(
  scan: Scan,
  members: readonly ComparedMember[],
  asked: { sign: Sign; days: number },
): SharedResult[] {
  const { best } = scan;
  if (best === null || scan.affected < fewestAffected || best.affectedIn < 2) return [];
  const [{ by, name } = best, ...same] = namesOf(best);
  const inside = members.filter((one) => one.affected && one.groups[best.by] === best.name);
  const counts = Map.groupBy(inside, ({ systemId }) => systemId);
  const [systemId = ''] = [...counts].sort((a, b) => b[1].length - a[1].length).map(([id]) => id);
  const turned = [{ by }, ...same].some((one) => one.by === 'lamps');
  const { affectedIn, totalIn, affectedOut, totalOut, p } = best;
  const found = {
    ...asked,
    ...{ by, name, same, affectedIn, totalIn, affectedOut, totalOut, p, systemId },
    ...{
      rackIds: [...new Set(inside.map(({ rackId }) => rackId))],
      lampId: turned ? (inside[0]?.lampId ?? null) : null,
    },
    lots: inside.map(({ lotId, code, firstSeen }) => ({
      id: lotId,
      code,
      firstSeen: firstSeen?.toISOString() ?? '',
    })),
  };
  return [found];
}
