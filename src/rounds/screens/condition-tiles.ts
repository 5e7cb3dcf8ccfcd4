import type { Comparison, ConditionState, Severity } from '../../generated/prisma/enums.ts';
import {
  COMPARISON_WORDS,
  COMPARISONS,
  CONDITION_STATES,
  CONDITION_WORDS,
  GRADE_WORDS,
} from '../../stock/base/condition-states.rules.ts';
import { causeChoices } from '../../stock/losses/losses.schema.ts';
import { pestChoices } from '../../stock/pests/pests.schema.ts';
import { inkOf } from '../round/lot-rows.rules.ts';

/** A tile to choose. */
interface Tile {
  value: string;
  text: string;
  /** How much ink its words get in the row. */
  ink: Severity;
  chosen: boolean;
}

/** What can be noted of a lot: what is wrong first, that it is well after all last. */
const ORDER: ConditionState[] = [...CONDITION_STATES.filter((state) => state !== 'well'), 'well'];

const comparedTiles: Readonly<Record<Comparison, string>> = {
  as_before: 'As before',
  better: 'Better',
  worse: 'Worse',
};

/** The tiles of the noting form, those typed before chosen. */
export function conditionTiles(typed: Record<string, string | string[]> = {}): {
  compared: { value: string; text: string; word: string; chosen: boolean }[];
  states: Tile[];
  grades: Tile[];
  causes: { value: string; text: string }[];
  pests: readonly { value: string; text: string }[];
} {
  const states = ORDER.map((state) => ({
    value: state as string,
    text: state === 'well' ? 'Well again' : CONDITION_WORDS[state],
    ink: inkOf(state),
    chosen: typed.state === state,
  }));
  const grades = Object.entries(GRADE_WORDS).map(([value, text]) => ({
    value,
    text,
    ink: 'watch' as const,
    chosen: String(typed.grade) === value,
  }));
  const compared = COMPARISONS.map((value) => ({
    value,
    text: comparedTiles[value],
    word: COMPARISON_WORDS[value],
    chosen: typed.compared === value,
  }));
  return { compared, states, grades, causes: causeChoices, pests: pestChoices };
}
