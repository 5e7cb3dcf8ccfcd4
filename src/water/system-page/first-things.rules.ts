import { type Advice, type Phase, phaseRank } from '../../alerts/advice.ts';
import { stepsOfPiece } from '../../alerts/steps.ts';

/** An open alert with the advice that was composed for it; null of one kept before advice was data. */
export interface ToldAlert {
  id: string;
  title: string;
  severity: 'now' | 'today' | 'watch';
  advice: readonly Advice[] | null;
  /** Another of them is its cause. */
  isExplained: boolean;
}

/** One line of the list: what to do, and the alert that says why. */
export interface FirstThing {
  alertId: string;
  title: string;
  text: string;
}

/** More is not a list of what comes first; own choice. */
const most = 7;
/** Whole sentences are taken until a line has so many characters; own choice. */
const lineLength = 60;

/** What is done whatever the cause is: it saves people and animals while the cause is seen to. */
const whateverTheCause: readonly Phase[] = ['people', 'air', 'source', 'isolate'];

/**
 * What is done first in a whole system, in one order over all its alerts: people, oxygen and movement, the source,
 * keeping apart, measuring, correcting; within one place the most urgent first. What waits and what is only watched is
 * not in it, and what two alerts ask for stands once. Of an alert that another explains, the other's steps are done: its own
 * are in it only where it cannot wait and they are right whatever the cause is.
 */
export function firstThings(alerts: readonly ToldAlert[]): FirstThing[] {
  const order = ['now', 'today'];
  const lines = alerts
    .filter(({ severity }) => order.includes(severity))
    .flatMap(({ advice, isExplained, ...alert }) =>
      (advice ?? [])
        .filter(({ waits, text, phase }) => waits !== true && text !== '' && phase !== 'again')
        .filter(({ phase }) => !isExplained || (alert.severity === 'now' && whateverTheCause.includes(phase)))
        .map((one) => ({ ...alert, rank: phaseRank(one), text: beginning(one.text) })),
    )
    .sort((a, b) => a.rank - b.rank || order.indexOf(a.severity) - order.indexOf(b.severity));
  const once = new Map(lines.toReversed().map((line) => [line.text, line]));
  return lines
    .filter((line) => once.get(line.text) === line)
    .slice(0, most)
    .map(({ id, title, text }) => ({ alertId: id, title, text }));
}

/** The first sentences of a text. */
function beginning(text: string): string {
  let line = '';
  for (const { text: sentence } of stepsOfPiece({ text })) {
    if (line.length >= lineLength) break;
    line = line === '' ? sentence : `${line} ${sentence}`;
  }
  return line;
}
