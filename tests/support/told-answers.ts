import { z } from 'zod';

type Schema = Record<string, unknown>;

/** Closes every object whose fields are told and that says nothing of more, so that a field that is not told is found. */
function closed(part: unknown): unknown {
  if (Array.isArray(part)) return part.map(closed);
  if (typeof part !== 'object' || part === null) return part;
  const all = Object.fromEntries(Object.entries(part).map(([name, value]) => [name, closed(value)]));
  const isOpenObject =
    all.type === 'object' && all.properties !== undefined && all.additionalProperties === undefined;
  return isOpenObject ? { ...all, additionalProperties: false } : all;
}

/** The answers of a document of the doors, by the route that gives them: "GET /api/racks/:id"; null where none is told. */
export function toldAnswers(document: Schema): (route: string) => z.ZodType | null {
  const paths = document.paths as Record<string, Record<string, Schema>>;
  const known = new Map<string, z.ZodType | null>();
  return (route) => {
    const found = known.get(route);
    if (found !== undefined) return found;
    const [method = '', url = ''] = route.split(' ');
    const path = url.replace(/^\/api/, '/api/v1').replace(/:(\w+)/g, '{$1}');
    const responses = paths[path]?.[method.toLowerCase()]?.responses as
      | { 200: { content: { 'application/json': { schema: Schema } } } }
      | undefined;
    const schema = responses?.[200].content['application/json'].schema;
    const isTold = schema !== undefined && !('$ref' in schema);
    const told = isTold ? z.fromJSONSchema(closed(schema) as Parameters<typeof z.fromJSONSchema>[0]) : null;
    known.set(route, told);
    return told;
  };
}

/** What an answer has otherwise than it is told; "" where it is as told. */
export function unlike(told: z.ZodType | null, answer: unknown): string {
  if (told === null) return 'no schema is told';
  const { error } = told.safeParse(answer);
  return error === undefined ? '' : z.prettifyError(error).slice(0, 600);
}
