/**
 * A pure function of an object that never changes, worked out once for each: the answer is kept for as long as the
 * object is.
 */
export function memoize<Key extends object, Value>(work: (key: Key) => Value): (key: Key) => Value {
  const known = new WeakMap<Key, { value: Value }>();
  return (key) => {
    const found = known.get(key);
    if (found !== undefined) return found.value;
    const value = work(key);
    known.set(key, { value });
    return value;
  };
}

/** Answers kept for one object. */
const mostKept = 4;

/** The same, or lists of the same things. */
function alike(a: unknown, b: unknown): boolean {
  if (Object.is(a, b)) return true;
  if (!Array.isArray(a) || !Array.isArray(b) || a.length !== b.length) return false;
  return a.every((one, i) => Object.is(one, b[i]));
}

/**
 * A pure function of several things that never change, kept with one object among them: the last few answers, for as
 * long as that object is. Asked again with the same things, or with lists of the same things, it is not worked out anew.
 */
export function memoizeWith<Inputs extends readonly unknown[], Value>(
  keeper: (...inputs: Inputs) => object | undefined,
  work: (...inputs: Inputs) => Value,
): (...inputs: Inputs) => Value {
  const known = new WeakMap<object, { inputs: Inputs; value: Value }[]>();
  return (...inputs) => {
    const key = keeper(...inputs);
    if (key === undefined) return work(...inputs);
    const answers = known.get(key) ?? [];
    const found = answers.find(
      (one) => one.inputs.length === inputs.length && one.inputs.every((input, i) => alike(input, inputs[i])),
    );
    if (found !== undefined) return found.value;
    const value = work(...inputs);
    known.set(key, [{ inputs, value }, ...answers.slice(0, mostKept - 1)]);
    return value;
  };
}
