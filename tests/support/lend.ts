/**
 * Something under another name that can be taken back: whoever still uses it then is told by an error, and does not reach
 * what it has become meanwhile.
 * @param instead what is found of it under these names
 */
export function lend<Thing extends object>(
  thing: Thing,
  instead: Partial<Thing> = {},
): { proxy: Thing; revoke(): void } {
  return Proxy.revocable(thing, {
    get(target, name) {
      if (Object.hasOwn(instead, name)) return instead[name as keyof Thing];
      const found: unknown = Reflect.get(target, name, target);
      return typeof found === 'function' ? found.bind(target) : found;
    },
  });
}
