/**
 * Something under another name that can be taken back: whoever still uses it then is told by an error, and does not reach
 * what it has become meanwhile. What is set on it, as by a spy, is its own alone.
 * @param instead what is found of it under these names
 */
export function lend<Thing extends object>(
  thing: Thing,
  instead: Partial<Thing> = {},
): { proxy: Thing; revoke(): void } {
  let isLent = true;
  const proxy = new Proxy({ ...instead } as Thing, {
    getPrototypeOf: () => Reflect.getPrototypeOf(thing),
    has: (own, name) => Reflect.has(own, name) || Reflect.has(thing, name),
    get(own, name) {
      if (!isLent) throw new TypeError(`${String(name)} was asked of what has been taken back`);
      if (Object.hasOwn(own, name)) return own[name as keyof Thing];
      const found: unknown = Reflect.get(thing, name, thing);
      return typeof found === 'function' ? found.bind(thing) : found;
    },
  });
  const revoke = () => {
    isLent = false;
  };
  return { proxy, revoke };
}
