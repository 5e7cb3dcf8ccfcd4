import type { FastifyInstance } from 'fastify';
import type { CollectedRoute } from '../../platform/door/collected.ts';
import type { Service } from '../../platform/service.ts';
import { showPage } from '../../platform/web/pages.ts';
import type { JsonSchema } from './body-schemas.ts';
import { inOrder, type KeyScope, type Operation, openApiOf, operationsOf } from './document.ts';
import { listOperations } from './list-operations.ts';

/** What the document is made from. */
export interface DoorSources {
  routes: readonly CollectedRoute[];
  keyScope: KeyScope;
}

/** What programs read and write: the OpenAPI document, and the same as a page. */
export function doorPages(app: FastifyInstance, service: Service, { routes, keyScope }: DoorSources): void {
  const known: { operations?: Operation[]; document?: JsonSchema } = {};
  const operations = async () =>
    (known.operations ??= inOrder([
      ...operationsOf(routes, keyScope),
      ...(await listOperations(service, keyScope)),
    ]));
  const server = service.config.PUBLIC_URL ?? '/';
  app.get('/api/openapi.json', async () => (known.document ??= openApiOf(await operations(), server)));
  app.get('/api', async (request, reply) => {
    const areas = areasOf(await operations());
    return showPage(
      service,
      request,
      reply,
      'exports/doors',
      { areas, server: server.replace(/\/$/, '') },
      { title: 'Doors for programs' },
    );
  });
}

/** Operations by what they are about, and that by the area of the farm: "stock", "stock/lots". */
function areasOf(operations: readonly Operation[]) {
  const groups = [...Map.groupBy(operations, ({ group }) => group)].map(([name, all]) => ({
    name,
    operations: all.map(({ schema, ...one }) => ({
      ...one,
      verb: one.method.toUpperCase(),
      fields: fieldsOf(schema),
    })),
  }));
  return [...Map.groupBy(groups, ({ name }) => name.split('/')[0] ?? name)].map(([name, within]) => ({
    name,
    groups: within.map((group) => ({ ...group, heading: within.length > 1 ? group.name : '' })),
    count: within.reduce((sum, group) => sum + group.operations.length, 0),
  }));
}

/** The fields of a body, one line each. */
function fieldsOf(schema: JsonSchema | null) {
  const parts = schema === null ? [] : [schema, ...((schema.allOf ?? []) as JsonSchema[])];
  return parts.flatMap(({ properties = {}, required = [] }) =>
    Object.entries(properties as Record<string, JsonSchema>).map(([name, field]) => ({
      name,
      type: typeWords(field),
      what: [String(field.description ?? ''), valuesOf(field)]
        .map((one) => one.replace(/\.$/, ''))
        .filter((one) => one !== '')
        .join('. '),
      isRequired: (required as string[]).includes(name),
    })),
  );
}

/** "text, or nothing": what kind of value a field takes. */
function typeWords({ type, anyOf }: JsonSchema): string {
  const types = [type ?? (anyOf === undefined ? 'any' : ['string', 'number'])].flat() as string[];
  const known: Record<string, string> = {
    string: 'text',
    null: 'nothing',
    array: 'list',
    boolean: 'true or false',
  };
  return types.map((one) => known[one] ?? one).join(' or ');
}

const valuesOf = ({ enum: values }: JsonSchema): string =>
  Array.isArray(values) ? `One of: ${values.filter((value) => value !== '').join(', ')}` : '';
