/**
 * A pure function of an object that never changes, worked out once for each: the answer is kept for as long as the
 * object is.
 */
export function remembered<Key extends object, Value>(work: (key: Key) => Value): (key: Key) => Value {
  const known = new WeakMap<Key, { value: Value }>();
  return (key) => {
    const found = known.get(key);
    if (found !== undefined) return found.value;
    const value = work(key);
    known.set(key, { value });
    return value;
  };
}
