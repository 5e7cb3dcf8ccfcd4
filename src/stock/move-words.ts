import type { MoveState } from './move-plan-state.ts';

/** "Move GR-4F7 to Rack S2, A3", "Lift GR-4F7 out". */
export function moveTitle({ code, place }: Pick<MoveState, 'code' | 'place'>): string {
  return place === '' ? `Lift ${code} out` : `Move ${code} to ${place}`;
}

/** What is looked at before a hand reaches in. */
export const MOVE_CAUTIONS = [
  'Look at it first: if it is pale, torn or full of slime, note that and leave it where it is.',
  'Wear gloves and eye protection: some of these animals carry strong poisons.',
];

/** What a lot that is lifted out needs meanwhile. */
export const LIFT_CAUTION =
  'Keep it under water of its own system, shaded and as warm, for minutes only: its place is free after the next moves.';
