import type { SubjectType } from './finding.ts';

/**
 * The order in which things are done, always the same: people, oxygen and movement, stop the source, keep apart what is
 * still well, then measure, correct and improve, and look again.
 */
export const phases = [
  'people',
  'air',
  'source',
  'isolate',
  'measure',
  'correct',
  'optimise',
  'again',
] as const;
export type Phase = (typeof phases)[number];

/** What is acted on. Two pieces of advice can only be against each other on the same one. */
export type Lever =
  | 'air'
  | 'pumps'
  | 'heating'
  | 'top-up'
  | 'dose'
  | 'level'
  | 'food'
  | 'water'
  | 'export'
  | 'remover'
  | 'light'
  | 'place'
  | 'apart'
  | 'flow';

/** Turned up or down, done once, not turned up, or left alone. */
export type Direction = 'up' | 'down' | 'do' | 'not up' | 'hold';

/** One thing that is done or left alone. */
export interface Act {
  lever: Lever;
  direction: Direction;
  /** Whose level or dose, by code; '' where that says nothing, or for all of them. */
  quantity: string;
  /** How fast a level is set right; '' for what is not a level. */
  pace: 'acute' | 'slow' | '';
}

/** One piece of advice as a rule gives it. */
export interface Advice {
  phase: Phase;
  /** What to do: each sentence is one step, begins with its verb and has at most twenty words. */
  text: string;
  /** What is good to know with the last of these steps: a reason, a caution. */
  note?: string;
  acts: readonly Act[];
  /** Costs nothing and harms nothing, even if the reading behind it is wrong. */
  free: boolean;
  /** Whom it concerns, where that is not the subject of the finding. */
  on?: { type: SubjectType; id: string };
  /** Not yet: something else comes first. */
  waits?: true;
  /** Said by the arbiter in place of what waits, not by the rule. */
  added?: true;
  /** What is to be looked at: not asked for again where the log says that somebody did so lately. */
  asks?: Asked;
}

/**
 * A doser that is seen to, a standard tested with the kit in use, a look at all stock, another test since the alert, a test of
 * salinity, the place of a lot (flow, neighbours), the light of racks measured since the alert.
 */
export type Asked = 'doser' | 'standard' | 'stock' | 'test' | 'salinity' | 'place' | 'light';

type Said = (text: string, ...acts: readonly Act[]) => Advice;

const saying =
  (phase: Phase, free: boolean): Said =>
  (text, ...acts) => ({ phase, text, acts, free });

/** Advice with what is good to know with it. */
export const noted = (advice: Advice, note: string): Advice => (note === '' ? advice : { ...advice, note });

/** Advice to see to something that the log may know to be in order already. */
export const asking = (asks: Asked, advice: Advice): Advice => ({ ...advice, asks });

/** Pieces of advice by their place in the order. Correcting and improving are right only if the reading is. */
export const people = saying('people', true);
export const air = saying('air', true);
export const source = saying('source', true);
export const isolate = saying('isolate', false);
export const measure = saying('measure', true);
export const correct = saying('correct', false);
export const optimise = saying('optimise', false);
export const again = saying('again', true);

const acting =
  (direction: Direction) =>
  (lever: Lever, quantity = '', pace: Act['pace'] = ''): Act => ({ lever, direction, quantity, pace });

/** Acts: more of it, less of it, done, no more than now, left alone. */
export const up = acting('up');
export const down = acting('down');
export const done = acting('do');
export const notUp = acting('not up');
export const hold = acting('hold');

/** The place of advice in the order, 0 first. */
export const phaseRank = ({ phase }: Pick<Advice, 'phase'>): number => phases.indexOf(phase);

/** Advice in its order; within one place as it was given. */
export const inOrder = <A extends Pick<Advice, 'phase'>>(advice: readonly A[]): A[] =>
  advice.toSorted((a, b) => phaseRank(a) - phaseRank(b));

/** Pieces of advice as one text, in their order. */
export const wordsOf = (advice: readonly Advice[]): string =>
  inOrder(advice)
    .flatMap(({ text, note }) => [text, ...(note === undefined ? [] : [note])])
    .join(' ');

/** What is to be done now as one text, in its order, and what waits. */
export const adviceWords = (advice: readonly Advice[]): { firstStep: string; later: string } => ({
  firstStep: wordsOf(advice.filter(({ waits }) => waits !== true)),
  later: wordsOf(advice.filter(({ waits }) => waits === true)),
});

/** What a finding says is to be done: the pieces, and the text of them. */
export const advised = (...advice: readonly Advice[]): { advice: readonly Advice[]; firstStep: string } => ({
  advice: inOrder(advice),
  firstStep: wordsOf(advice),
});
