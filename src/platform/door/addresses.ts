import type { IncomingMessage } from 'node:http';

/** Where programs come in: the same routes as the pages have, under this address, answered as JSON. */
export const doorPath = '/api/v1';

/** The requests that came in there: what is asked for is rewritten to the route's own address. */
const cameIn = new WeakSet<IncomingMessage>();

/** True where a program asks, under `/api/v1`: it is answered as JSON and never with a page. */
export const isByDoor = ({ raw }: { raw: IncomingMessage }): boolean => cameIn.has(raw);

const shapeOf = (address: string): RegExp =>
  new RegExp(
    `^${address
      .split('/')
      .map((part) => (part.startsWith(':') ? '[^/]+' : part.replace(/[.*+?^$()|[\]\\]/g, '\\$&')))
      .join('/')}/?$`,
  );

/**
 * Gives the route's own address for one under the door: `/api/v1/lots` is `/api/lots` where a route for programs has it,
 * else `/api/v1/water/kits` is `/water/kits`, whose form takes the same fields as JSON. Every other address stays.
 * @param routes names of routes: "GET /api/lots/:code"
 */
export function doorRewriter(
  routes: Iterable<string>,
): (request: IncomingMessage, address: string) => string {
  const forPrograms = Map.groupBy(
    [...routes]
      .map((name) => name.split(' ') as [string, string])
      .filter(([, address]) => address.startsWith('/api/')),
    ([method]) => method,
  );
  const shapes = new Map(
    [...forPrograms].map(([method, names]) => [method, names.map(([, address]) => shapeOf(address))]),
  );
  return (request, address) => {
    // The page that tells of them is for people.
    if (address === doorPath || address.startsWith(`${doorPath}?`))
      return `/api${address.slice(doorPath.length)}`;
    if (!address.startsWith(`${doorPath}/`)) return address;
    cameIn.add(request);
    const inner = address.slice(doorPath.length);
    const path = `/api${/^[^?]*/.exec(inner)?.[0] ?? ''}`;
    const method = request.method === 'HEAD' ? 'GET' : (request.method ?? 'GET');
    const known = shapes.get(method)?.some((shape) => shape.test(path)) === true;
    return known ? `/api${inner}` : inner;
  };
}
