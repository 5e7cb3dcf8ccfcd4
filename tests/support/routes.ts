import type { FastifyInstance } from 'fastify';

export interface Route {
  method: string;
  url: string;
}

/**
 * Every route of the running service, as its router prints them. HEAD, which stands beside each GET, is left out, and so
 * are the two of files (`/assets/*`), which it prints without what they begin with.
 */
export function routesOf(app: FastifyInstance): Route[] {
  const lines = app.printRoutes({ commonPrefix: false }).split('\n');
  const path: string[] = [];
  return lines.flatMap((line) => {
    const found = /^((?:[│ ] {3})*)[├└]── (\S*) ?(?:\(([A-Z, ]+)\))?$/u.exec(line);
    if (found === null) return [];
    const depth = (found[1] ?? '').length / 4;
    path.length = depth;
    path.push(found[2] ?? '');
    // Where routes of one shape name a part differently, the router prints both names.
    const url = path.join('').replace(/(:\w+)(\|:\w+)+/g, '$1');
    return (found[3] ?? '')
      .split(', ')
      .filter((method) => method !== '' && method !== 'HEAD' && !url.includes('*'))
      .map((method) => ({ method, url }));
  });
}
