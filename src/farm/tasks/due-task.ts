/** The work a system gets again and again, or step by step. */
export type DueKind =
  | 'test'
  | 'water_change'
  | 'dose'
  | 'feeding'
  | 'correction'
  | 'light'
  | 'move'
  | 'service'
  | 'safety_check'
  | 'look';

/**
 * One piece of work that is due in a system on its site's present day (or overdue from earlier ones). Only `held` and
 * `done` say whether it can be ticked off.
 */
export interface DueTask {
  /** Stays the same while the piece of work is the same: "routine:<id>", "correction:<step's id>", "light:<step's id>". */
  key: string;
  work: DueKind;
  systemId: string;
  systemName: string;
  /** What is to be done: "Change 180 L of water", "Add 24 g of sodium bicarbonate". */
  title: string;
  /** How: amounts weighed out, what is expected afterwards, when it was last done. One line each. */
  detail: string[];
  /** Cautions that stand beside the amounts. */
  cautions: string[];
  /** Why it may not be done now, in words; null when it may. */
  held: string | null;
  /** Local day on which it was due, "2026-11-24". */
  dueOn: string;
  /** Whole days since it was due; 0 today. */
  overdueDays: number;
  /** Done on the present day. */
  done: boolean;
  /** Where it is planned and told in full. */
  href: string;
  /** The planned amount, where another may be entered when it is ticked off. */
  amount?: { value: number; unit: string } | null;
  /** Of a feeding with the pumps off: for how long. */
  pumpsOffMin?: number | null;
}
