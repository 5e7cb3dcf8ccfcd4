import type { keyScopes } from './people/keys/scopes.ts';

type Scope = (typeof keyScopes)[number]['code'];

/**
 * Which scope an access key needs to write at a route, by how its address begins; the first that fits. What begins
 * otherwise no key opens: accounts, keys, sites, backups, what is removed for good.
 */
const writes: readonly [RegExp, Scope][] = [
  [/^\/api\/(readings|doses|senml)(\/|$)/, 'readings'],
  [/^\/(stock\/orders|holds|tags|labels)(\/|$)/, 'sales'],
  [/^\/(api\/)?lots\/:id\/(sales|holds)$/, 'sales'],
  [
    /^\/(api\/)?(water|systems|water-changes|feedings|routines|corrections|correction-steps|watch|alerts|emergencies|rounds|missing)(\/|$)/,
    'work',
  ],
  [
    /^\/(api\/)?(stock|lots|kinds|placements|counts|conditions|photos|files|moves|move-plans|planned-moves)(\/|$)/,
    'stock',
  ],
  [
    /^\/(api\/)?(acclimations|acclimation-steps|acclimation-drafts|size-measurements|rack-photographs|rack-photograph-lots|healing-looks|pest-looks|pest-treatments|stocktakes)(\/|$)/,
    'stock',
  ],
  [/^\/(api\/)?(farm\/(?!bring-in)|racks|lamps|tanks|light-surveys|digest|digests)(\/|.*)$/, 'farm'],
];

/** What no key reads either: accounts and keys, whole backups, and the farm as one file. */
const closedToRead =
  /^\/(people|account|backups|kept|farm\/bring-in|export\/farm\.zip|sites|removals|persons)(\/|$)/;

/** The scope that a key needs for a route, by its name ("POST /water/kits"); null where no key opens it. */
export function keyScope(route: string): Scope | null {
  const [method = '', url = ''] = route.split(' ');
  if (method === 'GET') return closedToRead.test(url) ? null : 'read';
  return writes.find(([begins]) => begins.test(url))?.[1] ?? null;
}
