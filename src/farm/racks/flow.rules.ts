import type { Base, Flow } from '../../generated/prisma/enums.ts';
import { type Cell, rowLetter } from './slots.rules.ts';

/** How water moves at a slot: its class (null: nobody has said), and whether a jet strikes it directly and steadily. */
export interface SlotFlow {
  flow: Flow | null;
  jet: boolean;
}

/** The flow classes from least to most; care figures count them from 0. */
const flowClasses: readonly Flow[] = ['still', 'low', 'medium', 'high'];

/** Still 0, low 1, medium 2, high 3; null where the flow is not known. */
export const flowLevel = (flow: Flow | null): number | null =>
  flow === null ? null : flowClasses.indexOf(flow);

/** The choices for one slot: not known, every class, and each with a jet where the water moves at all. */
export const flowChoices = [
  'unknown',
  'still',
  'low',
  'medium',
  'high',
  'low-jet',
  'medium-jet',
  'high-jet',
] as const;
export type FlowChoice = (typeof flowChoices)[number];

export const flowChoiceOf = ({ flow, jet }: SlotFlow): FlowChoice =>
  flow === null ? 'unknown' : jet && flow !== 'still' ? `${flow}-jet` : flow;

export const flowOf = (choice: FlowChoice): SlotFlow => {
  if (choice === 'unknown') return { flow: null, jet: false };
  const [flow, jet] = choice.split('-');
  return { flow: flow as Flow, jet: jet === 'jet' };
};

export const baseChoices = ['egg_crate', 'rock', 'sand'] as const satisfies readonly Base[];

/** A stretch of slots that are set together: 'all', 'row-2', 'column-7'; '' is none. */
export type Stretch = string;

/** True when the cell lies in the stretch. */
export function inStretch({ row, column }: Cell, stretch: Stretch): boolean {
  return stretch === 'all' || stretch === `row-${row}` || stretch === `column-${column}`;
}

/** The stretches of a grid, to choose from. */
export function stretchesOf({ rows, columns }: { rows: number; columns: number }) {
  const row = (i: number) => ({ value: `row-${i + 1}`, text: `Row ${rowLetter(i + 1)}` });
  const column = (i: number) => ({ value: `column-${i + 1}`, text: `Column ${i + 1}` });
  return [
    { value: 'all', text: 'Every slot' },
    ...Array.from({ length: rows }, (_, i) => row(i)),
    ...Array.from({ length: columns }, (_, i) => column(i)),
  ];
}
