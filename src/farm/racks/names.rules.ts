/**
 * The names of racks that are added together: the number at the end of the first one's counts up ("R1" to "R18", "A 09"
 * to "A 11"); null where several are wanted and the name ends with no number.
 */
export function numberedNames(first: string, count: number): string[] | null {
  if (count === 1) return [first];
  const [, stem = '', digits] = /^(.*?)(\d+)$/.exec(first) ?? [];
  if (digits === undefined) return null;
  return Array.from(
    { length: count },
    (_, i) => `${stem}${String(Number(digits) + i).padStart(digits.length, '0')}`,
  );
}

/**
 * Names for copies of a thing, that none of `taken` has: the number at its end counts up, else one is put behind it
 * ("R1": R2, R3; "Long tank": Long tank 2, Long tank 3).
 */
export function nextNames(name: string, taken: readonly string[], count: number): string[] {
  const [, stem = `${name} `, digits = '1'] = /^(.*?)(\d+)$/.exec(name) ?? [];
  const used = new Set(taken.map((one) => one.toLowerCase()));
  const names: string[] = [];
  for (let number = Number(digits) + 1; names.length < count; number += 1) {
    const next = `${stem}${String(number).padStart(digits.length, '0')}`;
    if (!used.has(next.toLowerCase())) names.push(next);
  }
  return names;
}
