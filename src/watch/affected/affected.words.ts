import { numberWords, plural } from '../../platform/words/numbers.ts';
import type { Cluster, Scan } from '../../science/scan.ts';
import type { Sign } from './members.rules.ts';
import { fewestAffected, groupingWords, namesOf, rivalsOf } from './result.rules.ts';

/** The signs as a choice. */
export const signWords: Readonly<Record<Sign, string>> = {
  any: 'Paled, receded or died',
  pale: 'Paled or bleached',
  flesh: 'Receded or lost pieces',
  dead: 'Lost pieces',
};

const named = ({ by, name }: { by: string; name: string }): string => `${groupingWords[by] ?? by}: ${name}`;
const headOf = (cluster: Cluster): { by: string; name: string } => namesOf(cluster)[0] ?? cluster;

/** What the comparison says, in a heading and sentences. */
export function affectedWords(scan: Scan, days: number): { heading: string; sentences: string[] } {
  const { affected, total, best } = scan;
  const base = `${plural(affected, 'lot', 'lots')} of ${numberWords(total)} that were looked at ${affected === 1 ? 'was' : 'were'} first seen this way in the last ${days === 1 ? 'day' : plural(days, 'day', 'days')}.`;
  if (affected < fewestAffected)
    return {
      heading: affected === 0 ? 'No lot was newly seen this way' : 'Too few to compare',
      sentences: [base, `From ${fewestAffected} lots on they are compared with the others.`],
    };
  if (best === null)
    return {
      heading: 'Nothing stands out',
      sentences: [
        base,
        'No place, kind, origin, cut, hand or change has more of them than chance would bring. Test the water they all share.',
      ],
    };
  const rivals = rivalsOf(scan);
  return {
    heading: named(headOf(best)),
    sentences: [
      base,
      `Here ${best.affectedIn} of ${plural(best.totalIn, 'lot', 'lots')} ${best.affectedIn === 1 ? 'is' : 'are'} affected; elsewhere ${best.affectedOut} of ${numberWords(best.totalOut)}. Chance does as much in ${chanceWords(best.p)}.`,
      ...(best.same.length === 0
        ? []
        : [
            `These are the same lots, so they cannot be told apart: ${namesOf(best).slice(1).map(named).join('; ')}.`,
          ]),
      ...(rivals.length === 0
        ? []
        : [`These explain it about as well: ${rivals.map((one) => named(headOf(one))).join('; ')}.`]),
      'It is where to look first. It is not yet a proven cause.',
    ],
  };
}

/** "fewer than 1 of 1,000 cases", "about 3 of 100 cases". */
export function chanceWords(p: number): string {
  if (p < 0.001) return 'fewer than 1 of 1,000 cases';
  return p < 0.01
    ? `about ${numberWords(1000 * p, 0)} of 1,000 cases`
    : `about ${numberWords(100 * p, 0)} of 100 cases`;
}

/** So many groupings are listed, the strongest first (own choice). */
const listed = 8;

/** The strongest groupings as rows; two names of the same lots are one row. */
export const clusterRows = ({ clusters, best }: Scan) =>
  clusters.slice(0, listed).map((cluster) => ({
    name: namesOf(cluster).map(named),
    inside: `${cluster.affectedIn} of ${cluster.totalIn}`,
    outside: `${cluster.affectedOut} of ${cluster.totalOut}`,
    chance: chanceWords(cluster.p),
    isBest: cluster === best,
  }));
