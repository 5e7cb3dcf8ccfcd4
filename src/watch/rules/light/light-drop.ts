import { advised, optimise, up } from '../../../alerts/advice.ts';
import { type Finding, plainFinding, type Severity } from '../../../alerts/finding.ts';
import { urgencyBySource } from '../../../alerts/unchecked.rules.ts';
import type { LotFact, SystemFacts } from '../../facts/types.ts';
import { placementEvidence, whereWords } from '../shared/place-words.ts';
import { recoveryOf } from '../shared/recovery.ts';
import { figure, numberOf } from '../shared/words.ts';
import { accustomedLightOf, isUsedToKnown } from './light-dose.ts';
import { lightSince } from './light-since.ts';

/** A lot that stands in far less light than it is used to. */
export interface DimmedLot {
  lot: LotFact;
  par: number;
  accustomedPar: number;
  /** What it is used to over what it gets. */
  times: number;
  opens: number;
  sinceDay: number;
  /** Whether it is known what it is used to; else it is compared with the light it had so far. */
  isKnown: boolean;
  severity: Severity;
  status: 'fires' | 'stays';
}

/**
 * How far a lot's daily light fell below what it is accustomed to; null where it did not, where that is planned, or where
 * it was put into the shade to recover.
 */
export function dimmedLot(
  lot: LotFact,
  { opens, stays }: { opens: number; stays: number },
  today: number,
): DimmedLot | null {
  const now = lot.light.at(-1);
  if (now === undefined || now.par <= 0 || now.dli <= 0 || lot.acclimation !== null) return null;
  const known = accustomedLightOf(lot, today);
  if (known === null) return null;
  const times = known.dli / now.dli;
  if (times < stays || shaded(lot, now.fromDay)) return null;
  const low = lot.care.range?.low ?? 0;
  return {
    lot,
    par: now.par,
    accustomedPar: times * now.par,
    times,
    opens,
    sinceDay: now.fromDay,
    isKnown: isUsedToKnown(lot, today),
    severity: urgencyBySource(now.par < low ? 'today' : 'watch', lot.care.range?.source ?? ''),
    status: times >= opens ? 'fires' : 'stays',
  };
}

/** Weeks within which paling noted before explains a move into the shade. */
const palingDays = 30;

/** True where the lot was unwell from light or heat before the light fell. */
function shaded({ conditions }: LotFact, sinceDay: number): boolean {
  const recovery = recoveryOf(conditions);
  if (recovery !== null && recovery.sinceDay <= sinceDay + 1) return true;
  return conditions.some(
    ({ state, day }) => state === 'paling' && day <= sinceDay + 1 && day >= sinceDay - palingDays,
  );
}

/** The finding on one such lot. */
export function dimmedFinding(facts: SystemFacts, fallen: DimmedLot): Finding {
  const { lot, par, accustomedPar, times, opens, sinceDay, isKnown, severity, status } = fallen;
  const before = lot.light.at(-2);
  const wasTooBright =
    before !== undefined && before.par > (lot.care.ceiling?.par ?? Number.POSITIVE_INFINITY);
  return {
    ...plainFinding,
    rule: 'light-step',
    subject: { type: 'lot', id: lot.id },
    systemId: facts.systemId,
    href: `/stock/${lot.code}`,
    status,
    severity,
    score: times,
    title: `${whereWords(lot)}: far less light than before`,
    numbers: `${isKnown ? `used to ${numberOf(accustomedPar)}` : `had ${numberOf(before?.par ?? accustomedPar)}, and not for long enough to be used to it`}, gets ${numberOf(par)} ${lightSince(facts, lot, sinceDay)}`,
    number: figure(isKnown ? 'Times less than it is used to' : 'Times less than it had', times, 1, 'times'),
    limit: {
      ...figure('Told from', opens, 1, 'times'),
      source: 'own choice: a step down does less harm than one up',
    },
    figures: [{ label: 'Kind', text: lot.kindName }],
    why: 'In far less light a coral loses what it lives on; when it is brought back later, the old light is too much for it.',
    ...advised(
      optimise(
        wasTooBright
          ? 'Leave it: the light before was more than its kind takes. Raise its light only by steps.'
          : 'If the move was meant, leave it and raise its light only by steps. If not, put it back within days.',
        up('light'),
      ),
    ),
    evidence: [placementEvidence(lot, `${numberOf(par)} µmol/(m² s) now`)],
  };
}
