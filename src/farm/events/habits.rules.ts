/** Something that happened, or was read, on a day (days since 1970). */
interface Dated {
  readonly day: number;
}

/**
 * What was read since the habits of the water last changed: what is learnt of it (use, production, swing) begins there,
 * and nothing is averaged across the change. The same list where nothing changed.
 *
 * @param events of one system, oldest first
 */
export function sinceHabitsChanged<Row extends Dated>(
  events: readonly Dated[],
  rows: readonly Row[],
): readonly Row[] {
  const changed = events.at(-1);
  return changed === undefined ? rows : rows.filter(({ day }) => day >= changed.day);
}

/**
 * The same, and the last row before the change that may be relied on: where the water stood is still known, where it is
 * heading is learnt anew.
 */
export function levelSinceHabitsChanged<Row extends Dated>(
  events: readonly Dated[],
  rows: readonly Row[],
  isRelied: (row: Row) => boolean = () => true,
): readonly Row[] {
  const changed = events.at(-1);
  if (changed === undefined) return rows;
  const last = rows.findLastIndex((row) => row.day < changed.day && isRelied(row));
  return last < 0 ? rows : rows.slice(last);
}
