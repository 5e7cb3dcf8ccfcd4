import type { FastifyInstance } from 'fastify';
import type { Role } from '../../generated/prisma/enums.ts';

/**
 * Who may ask for a route: 'anybody', signed in or not; 'tag', whoever has the address of a tag, which is a secret;
 * 'letter', whoever got a letter with the address; 'reader', 'hand', 'manager', 'owner', which include each other upwards;
 * 'hand or key', an instrument with an access key besides.
 */
export type RouteAccess = 'anybody' | 'tag' | 'letter' | Role | 'hand or key';

const rank: Record<Role, number> = { reader: 0, hand: 1, manager: 2, owner: 3 };

/** True where nobody has to be signed in. */
export const isOpen = (access: RouteAccess): access is 'anybody' | 'tag' | 'letter' =>
  access === 'anybody' || access === 'tag' || access === 'letter';

/** True when somebody of `role` (null: nobody signed in) may use what asks for `access`. */
export function may(role: Role | null, access: RouteAccess): boolean {
  if (isOpen(access)) return true;
  return role !== null && rank[role] >= rank[access === 'hand or key' ? 'hand' : access];
}

/** True where somebody may plan and set up besides. */
export const isManager = (role: Role): boolean => may(role, 'manager');

/** Who may open the page at an address, by the table; null where no route has such an address. */
export function pageAccess(
  table: Readonly<Record<string, RouteAccess>>,
): (address: string) => RouteAccess | null {
  const pages = Object.entries(table)
    .filter(([name]) => name.startsWith('GET '))
    .map(([name, access]) => ({ parts: name.slice('GET '.length).split('/'), access }))
    // What is said word by word goes before what is said by a name: /stock/new before /stock/:code.
    .sort((a, b) => count(a.parts) - count(b.parts));
  return (address) => {
    const asked = (/^[^?#]*/.exec(address)?.[0] ?? '').replace(/(.)\/$/, '$1').split('/');
    const fits = (parts: readonly string[]) =>
      parts.length === asked.length && parts.every((part, i) => part.startsWith(':') || part === asked[i]);
    return pages.find(({ parts }) => fits(parts))?.access ?? null;
  };
}

const count = (parts: readonly string[]) => parts.filter((part) => part.startsWith(':')).length;

/** Gives each route that is added its access by the table. @throws Error where the table has no line for it */
export function holdRoutesTo(table: Readonly<Record<string, RouteAccess>>, app: FastifyInstance): void {
  app.addHook('onRoute', (route) => {
    for (const method of [route.method].flat()) {
      // A HEAD is added to each GET, and is open to the same people.
      const name = `${method === 'HEAD' ? 'GET' : method} ${route.url}`;
      const access = table[name];
      if (access === undefined) throw new Error(`Nobody has said who may ask for "${name}".`);
      route.config = { ...route.config, access };
    }
  });
}
