import type { Role } from '../../generated/prisma/enums.ts';

/** Who may ask for a route. 'public' needs nobody; the roles include each other upwards. */
export type Access = 'public' | Role;

const rank: Record<Role, number> = { hand: 1, manager: 2, owner: 3 };

/** True when somebody of `role` (null: nobody signed in) may use what asks for `access`. */
export function may(role: Role | null, access: Access): boolean {
  if (access === 'public') return true;
  return role !== null && rank[role] >= rank[access];
}
