import {
  type Act,
  type Advice,
  adviceWords,
  type Direction,
  hold,
  inOrder,
  measure,
  notUp,
  phaseRank,
} from '../../alerts/advice.ts';
import { opposes } from '../../alerts/conflicts.rules.ts';
import { type Finding, keyText, rankOf } from '../../alerts/finding.ts';
import { isWaterTrouble } from '../../alerts/water-trouble.ts';
import { harmOf } from '../../water/acute/harm.rules.ts';
import { type Concerned, type Ground, kitsBehind } from './ground.ts';
import { toldTogether } from './groups.rules.ts';

/** Findings on what keeps water alive that are told of a tank or a rack: as act now they hold as those on a whole water do. */
const ofPlant: readonly string[] = [
  'still-off',
  'equipment-fault',
  'warming-fast',
  'sinking-fast',
  'out-of-band',
];
/** Findings on an instrument after which its readings are not relied on, and all that are told of instruments. */
const biased: readonly string[] = ['kit-biased', 'probe-unwell'];
const ofInstruments: readonly string[] = [...biased, 'kit-unfit'];

/** What lots are found to have in common: it tells where to look, and the water may be in order. */
const comparisons: readonly string[] = ['affected-share', 'cut-batch', 'losses-above-usual'];

/** One piece of advice among all that stands in a system now. */
interface Claim {
  finding: Finding;
  advice: Advice;
  on: Concerned;
  /** Its place in the order of decision, the least first. */
  rank: readonly number[];
}

/** What was put off and for whom. */
interface Waiting {
  claim: Claim;
  for: { title: string; act: Act; instead: Advice | null } | null;
}

/**
 * Composes the advice of all findings that are told in one system: people, oxygen and movement, the source, keeping
 * apart, then measuring, correcting and improving. What cannot stand beside something that comes before it waits, and its
 * alert says for what; what follows from a reading nobody should rely on yet waits too, unless it costs nothing.
 * Urgency, titles and numbers stay as the rules gave them. What waits for an alert that it is told together with says what is
 * done instead, so that one group has one way. `findings` are those that people see; `putOff` the keys of those that somebody
 * put off.
 */
export function arbitrate(
  findings: readonly Finding[],
  ground: Ground,
  now: Date,
  putOff: ReadonlySet<string> = new Set(),
): Finding[] {
  const kits = new Map(findings.map((finding) => [finding, doubtedKit(finding, findings, ground, now)]));
  const waiting: Waiting[] = [];
  const accepted: Claim[] = [];
  const holds = findings.flatMap((finding) => holdsOf(finding, putOff.has(keyText(finding))));
  const together = toldTogether(findings);
  for (const claim of claimsOf(findings)) {
    const kit = kits.get(claim.finding) ?? null;
    if (!claim.advice.free && (claim.finding.doubted || kit !== null)) {
      waiting.push({ claim, for: null });
      continue;
    }
    const stronger = [...holds, ...accepted].find((other) => excludes(other, claim, ground));
    if (stronger === undefined) accepted.push(claim);
    else {
      const instead =
        stronger.advice.text !== '' &&
        stronger.on.id === claim.on.id &&
        together(stronger.finding, claim.finding)
          ? stronger.advice
          : null;
      const act = opposing(stronger, claim);
      waiting.push({ claim, for: { title: stronger.finding.title, act, instead } });
    }
  }
  return findings.map((finding) => composed(finding, accepted, waiting, kits.get(finding) ?? null));
}

/**
 * Whole-water danger: moves, more light, more food and slow corrections wait; what is kept apart is not moved into it. A level
 * out of its band that harms within days keeps lots where they are, as the forms of moves ask about it.
 */
function holdsOf(finding: Finding, putOff: boolean): Claim[] {
  const { severity, rule, subject } = finding;
  const ofTank = severity === 'now' && subject.type !== 'lot' && ofPlant.includes(rule);
  if (!ofTank && (comparisons.includes(rule) || !isWaterTrouble(finding, putOff))) return [];
  if (severity !== 'now' && harmOf(finding.facet) === 'weeks') return [];
  // Lamps that were left off harm over days, and nothing in the water.
  if (finding.advice.some(({ acts }) => acts.some(({ lever }) => lever === 'light')) && rule === 'still-off')
    return [];
  const advice: Advice = {
    phase: 'source',
    text: '',
    free: true,
    acts: severity === 'now' ? [hold('place'), notUp('light')] : [hold('place')],
  };
  return [{ finding, advice, on: subject, rank: [] }];
}

const caution: Readonly<Record<Direction, number>> = { hold: 0, 'not up': 0, down: 1, do: 2, up: 3 };

/** All advice, in the order in which it is decided: by the order of steps, then urgency, then caution, the acute pace before the slow. */
function claimsOf(findings: readonly Finding[]): Claim[] {
  return findings
    .flatMap((finding, index) =>
      ofTheRule(finding).map((advice): Claim => {
        const careful = Math.min(9, ...advice.acts.map(({ direction }) => caution[direction]));
        // Of two paces for one level the acute one is right: the slow one leaves stock where it dies.
        const slower = advice.acts.some(({ pace }) => pace === 'acute') ? 0 : 1;
        const rank = [phaseRank(advice), -rankOf(finding.severity), careful, slower, index];
        return { finding, advice, on: advice.on ?? finding.subject, rank };
      }),
    )
    .sort((a, b) => compare(a.rank, b.rank));
}

/** Advice as the rule gave it, whatever was decided of it before. */
const ofTheRule = ({ advice }: Finding): Advice[] =>
  advice.filter(({ added }) => added !== true).map(({ waits: _, ...one }) => one);

function compare(a: readonly number[], b: readonly number[]): number {
  const at = a.findIndex((value, i) => value !== b[i]);
  return at === -1 ? 0 : (a[at] ?? 0) - (b[at] ?? 0);
}

/** Whether advice that comes before leaves no room for this one. Pieces of one finding were composed together. */
function excludes(stronger: Claim, claim: Claim, ground: Ground): boolean {
  if (stronger.finding === claim.finding || !ground.meet(stronger.on, claim.on)) return false;
  // Water that is dangerous is no reason to leave a rotting piece in it.
  const acts =
    stronger.rank.length === 0
      ? claim.advice.acts.filter(({ lever }) => lever !== 'apart')
      : claim.advice.acts;
  return stronger.advice.acts.some((act) => acts.some((other) => opposes(act, other)));
}

const opposing = (stronger: Claim, claim: Claim): Act =>
  stronger.advice.acts.find((act) => claim.advice.acts.some((other) => opposes(act, other))) ?? hold('place');

/** The kit or probe that most of the last readings behind a finding were made with, where it is doubted; else null. */
function doubtedKit(
  finding: Finding,
  findings: readonly Finding[],
  ground: Ground,
  now: Date,
): string | null {
  if (ofInstruments.includes(finding.rule)) return null;
  const told = (kitId: string) =>
    findings.find(({ rule, subject }) => subject.id === kitId && biased.includes(rule))?.title;
  const kits = kitsBehind(finding, ground);
  const labels = kits.flatMap((kitId) => ground.doubtful(kitId, now) ?? told(kitId) ?? []);
  return labels.length * 2 > kits.length ? (labels[0] ?? null) : null;
}

function composed(
  finding: Finding,
  accepted: readonly Claim[],
  waiting: readonly Waiting[],
  kit: string | null,
): Finding {
  if (finding.advice.length === 0) return finding;
  const given = finding.advice.map(({ text }) => text);
  const kept = accepted
    .filter((claim) => claim.finding === finding)
    .map(({ advice }) => advice)
    .sort((a, b) => given.indexOf(a.text) - given.indexOf(b.text));
  const late = waiting.filter(({ claim }) => claim.finding === finding);
  const said = new Map(late.map((one) => waitingStep(one, kit)).map((step) => [step.text, step]));
  for (const text of ['', ...kept.map((one) => one.text)]) said.delete(text);
  const advice = inOrder([
    ...kept,
    ...[...said.values()].map((step) => ({ ...step, added: true as const })),
    ...late.map(({ claim }) => ({ ...claim.advice, waits: true as const })),
  ]);
  return { ...finding, advice, ...adviceWords(advice) };
}

/** What is said in place of advice that waits; '' where its finding says so by itself. */
function waitingStep({ claim, for: cause }: Waiting, kit: string | null): Advice {
  if (cause !== null) return cause.instead ?? measure(waitWords(claim.advice, cause));
  if (kit === null) return measure('');
  return measure(
    `Check the kit first: “${kit}” cannot be relied on. Test with another kit or method before anything is changed for this.`,
  );
}

function waitWords(
  { acts }: Advice,
  { title, act: { lever, direction } }: { title: string; act: Act },
): string {
  const until = `until “${title}” is over`;
  if (direction !== 'hold' && direction !== 'not up') return `See to “${title}” first.`;
  const shade = acts.some((act) => act.lever === 'light' && act.direction === 'down');
  if (lever === 'place') return `Leave it where it is${shade ? ', and shade it,' : ''} ${until}.`;
  if (lever === 'light') return `Leave the light as it is ${until}.`;
  if (lever === 'food') return `Feed no more than usual ${until}.`;
  if (lever === 'dose' || lever === 'level') return `Dose and correct nothing for this ${until}.`;
  return `See to “${title}” first.`;
}
