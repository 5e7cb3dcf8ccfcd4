import { doorPath } from '../../platform/door/addresses.ts';
import type { CollectedRoute } from '../../platform/door/collected.ts';
import { readAddresses } from '../../platform/door/etags.ts';
import { keptDays } from '../../platform/door/replays.ts';
import { isOpen } from '../../platform/web/access.ts';
import { answerSchema, bodySchema, type JsonSchema, namesVersion, queryParameters } from './body-schemas.ts';
import { reasonLeftOut } from './left-out.ts';
import { pageParameters, parts, responses } from './parts.ts';
import { routeWords } from './route-words.ts';

/** The scope that a key needs for a route; null where no key opens it. */
export type KeyScope = (route: string) => string | null;

/** A route under the door, and what is said of it. */
export interface Operation {
  method: 'get' | 'post' | 'put';
  /** "/api/v1/water/kits/{id}". */
  path: string;
  group: string;
  summary: string;
  role: string;
  scope: string | null;
  /** Of the body; of a list: of a row. */
  schema: JsonSchema | null;
  operation: JsonSchema;
}

const isForPrograms = ({ url }: Pick<CollectedRoute, 'url'>) => url.startsWith('/api/');

/** Forms of writes that are left out, forms kept for after the sign-in, and the camera's page: for people alone. */
const isForPeople = ({ method, url }: CollectedRoute) =>
  !isForPrograms({ url }) &&
  (method === 'GET'
    ? /^\/(kept|tablet|welcome|scan|sign-)/.test(url) || reasonLeftOut(`POST ${url}`) !== null
    : reasonLeftOut(`${method} ${url}`) !== null);

/**
 * Every route under the door: those for programs, each write of a page, and each form that is read before it is written.
 */
export function operationsOf(routes: readonly CollectedRoute[], keyScope: KeyScope): Operation[] {
  const writes = routes.filter(({ method, access }) => method !== 'GET' && !isOpen(access));
  const forms = new Set(
    writes.filter((route) => !isForPrograms(route)).flatMap(({ url }) => readAddresses(url)),
  );
  const known = new Set<string>();
  const all = routes
    .filter((route) => !isOpen(route.access) && !isForPeople(route))
    .filter((route) => isForPrograms(route) || route.method !== 'GET' || forms.has(route.url))
    .sort((a, b) => Number(isForPrograms(b)) - Number(isForPrograms(a)))
    .flatMap((route) => {
      const path = `${doorPath}${route.url.replace(/^\/api(?=\/)/, '')}`;
      // Where a form and a route for programs have one address, the latter answers.
      const shape = `${route.method} ${path.replace(/:\w+/g, ':')}`;
      if (known.has(shape)) return [];
      known.add(shape);
      return [operationOf(route, path, keyScope(`${route.method} ${route.url}`))];
    });
  return inOrder(all);
}

/** By address, then by method. */
export const inOrder = (operations: readonly Operation[]): Operation[] =>
  [...operations].sort(
    (a, b) => a.path.localeCompare(b.path, 'en') || a.method.localeCompare(b.method, 'en'),
  );

const idNames = /^(id|\w+Id|survey|setting)$/;

function operationOf(route: CollectedRoute, address: string, scope: string | null): Operation {
  const { method, access, takes, asks, answers } = route;
  const names = [...address.matchAll(/:(\w+)/g)].map(([, name]) => name ?? '');
  const path = address.replace(/:(\w+)/g, '{$1}');
  const schema = takes === null ? null : bodySchema(takes);
  const role = access === 'hand or key' ? 'hand' : access;
  const summary = routeWords[`${method} ${route.url}`] ?? fallbackWords(route);
  const isWrite = method !== 'GET';
  const parameters = [
    ...names.map((name) => ({
      ...{ name, in: 'path', required: true },
      schema: { type: 'string', ...(idNames.test(name) ? { format: 'uuid' } : {}) },
    })),
    ...(asks === null ? [] : queryParameters(asks)),
    ...(isWrite
      ? [{ $ref: '#/components/parameters/IdempotencyKey' }]
      : route.url === '/api/lists/:list'
        ? pageParameters
        : [{ $ref: '#/components/parameters/IfNoneMatch' }]),
    ...(schema !== null && namesVersion(schema) ? [{ $ref: '#/components/parameters/IfMatch' }] : []),
  ];
  const operation = {
    operationId: `${method.toLowerCase()}${path
      .slice(doorPath.length)
      .replace(/[{}]/g, '')
      .replace(/[^a-zA-Z0-9]+(.)/g, (_, sign: string) => sign.toUpperCase())}`,
    summary,
    description: accessWords(role, scope),
    tags: [groupOf(path)],
    parameters,
    ...(isWrite ? { requestBody: requestBodyOf(route, schema) } : {}),
    responses: responses(
      isForPrograms(route) ? (isWrite ? 'made' : 'read') : isWrite ? 'done' : 'form',
      answers === null ? undefined : answerSchema(answers),
    ),
    'x-role': role,
    ...(scope === null ? { security: [{ session: [] }] } : { 'x-scope': scope }),
  };
  return {
    ...{ method: method.toLowerCase() as Operation['method'], path, group: groupOf(path), summary },
    ...{ role, scope, schema, operation },
  };
}

/** Who may ask, and with which key. */
export const accessWords = (role: string, scope: string | null): string =>
  `${roleWords(role)} ${scope === null ? 'No access key opens this: it wants somebody who is signed in.' : `An access key needs the scope “${scope}”.`}`;

const roleWords = (role: string): string =>
  role === 'reader'
    ? 'Everybody with an account may ask for it.'
    : role === 'owner'
      ? 'Owners alone may ask for it.'
      : role === 'manager'
        ? 'Managers and owners may ask for it.'
        : 'Hands, managers and owners may ask for it.';

const groupOf = (path: string): string => {
  const [first = '', second = ''] = path.slice(doorPath.length + 1).split('/');
  return first === 'farm' || first === 'stock' || first === 'water'
    ? `${first}/${second.startsWith('{') || second === '' ? first : second}`
    : first;
};

/** Forms that are read before they are written have one sentence. */
const fallbackWords = ({ method, url }: CollectedRoute): string =>
  method === 'GET'
    ? `Reads what the form at ${url} holds now, with its version.`
    : `Sends the form at ${url}.`;

function requestBodyOf({ takesFile, url }: CollectedRoute, schema: JsonSchema | null): JsonSchema {
  const body = schema ?? { type: 'object', additionalProperties: true };
  if (url === '/api/photos/:id' || url === '/api/rack-photographs/:id')
    return { required: true, content: { 'image/*': { schema: { type: 'string', format: 'binary' } } } };
  if (!takesFile)
    return { required: schema?.required !== undefined, content: { 'application/json': { schema: body } } };
  return {
    required: true,
    content: { 'multipart/form-data': { schema: { type: 'object', additionalProperties: true } } },
  };
}

/** The whole document: OpenAPI 3.1. */
export function openApiOf(operations: readonly Operation[], server: string): JsonSchema {
  const paths: Record<string, JsonSchema> = {};
  for (const { path, method, operation } of operations) paths[path] = { ...paths[path], [method]: operation };
  return {
    openapi: '3.1.0',
    info: {
      title: 'Evenwater',
      version: '1',
      description: [
        'Everything that the pages of a farm do, for other programs. Numbers are canonical: litres, millimetres, grams, degrees Celsius; times are ISO 8601.',
        'A program sends its access key as `Authorization: Bearer ew_…`. Each write carries an `Idempotency-Key`, a UUID: the same request under the same key gets the same answer and is done once; keys are known for ' +
          `${keptDays} days.`,
        'What is read by its address has an `ETag`. Send it as `If-Match` with a change: if somebody was quicker, the answer is 412 and nothing is changed.',
        'What is refused comes as problem details (RFC 9457), with every field that was refused.',
      ].join('\n\n'),
    },
    servers: [{ url: server }],
    security: [{ key: [] }, { session: [] }],
    tags: [...new Set(operations.map(({ group }) => group))].sort().map((name) => ({ name })),
    paths,
    components: parts,
  };
}
