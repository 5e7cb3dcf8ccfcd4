import type { FastifyInstance } from 'fastify';
import type { Role } from '../../generated/prisma/enums.ts';

/**
 * Who may ask for a route: 'anybody', signed in or not; 'tag', whoever has the address of a tag, which is a secret;
 * 'letter', whoever got a letter with the address; 'hand', 'manager', 'owner', which include each other upwards;
 * 'hand or key', an instrument with an access key besides.
 */
export type RouteAccess = 'anybody' | 'tag' | 'letter' | Role | 'hand or key';

const rank: Record<Role, number> = { hand: 1, manager: 2, owner: 3 };

/** True where nobody has to be signed in. */
export const isOpen = (access: RouteAccess): access is 'anybody' | 'tag' | 'letter' =>
  access === 'anybody' || access === 'tag' || access === 'letter';

/** True when somebody of `role` (null: nobody signed in) may use what asks for `access`. */
export function may(role: Role | null, access: RouteAccess): boolean {
  if (isOpen(access)) return true;
  return role !== null && rank[role] >= rank[access === 'hand or key' ? 'hand' : access];
}

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
