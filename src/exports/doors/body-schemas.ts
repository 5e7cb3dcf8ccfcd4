import { z } from 'zod';
import { fieldShapes } from '../../platform/door/field-shapes.ts';
import { schemaOf, type Takes } from '../../platform/door/takes.ts';

/** A JSON Schema of 2020-12, as OpenAPI 3.1 takes it. */
export type JsonSchema = Record<string, unknown>;

/** Marks a field that must be sent until its object's list of required fields is made. */
const needed = 'x-needed';

/**
 * What a body is checked by, as JSON Schema. Forms send text for everything, and so may programs; what is told is the type
 * that is meant.
 */
export function bodySchema(takes: Takes): JsonSchema {
  const schema = z.toJSONSchema(schemaOf(takes), {
    io: 'input',
    unrepresentable: 'any',
    override: ({ zodSchema, jsonSchema }) => {
      const told = fieldShapes.get(zodSchema);
      if (told === undefined) return;
      for (const name of Object.keys(jsonSchema)) delete (jsonSchema as JsonSchema)[name];
      Object.assign(jsonSchema, told.json, told.needed === true ? { [needed]: true } : {});
    },
  }) as JsonSchema;
  const { $schema, ...rest } = withRequired(schema) as JsonSchema;
  return rest;
}

/** What a query is checked by, as parameters: each field by itself. */
export function queryParameters(asks: Takes): JsonSchema[] {
  const { properties = {}, required = [] } = bodySchema(asks);
  return Object.entries(properties as Record<string, JsonSchema>).map(
    ([name, { description, ...schema }]) => ({
      ...{ name, in: 'query', schema },
      ...((required as string[]).includes(name) ? { required: true } : {}),
      ...(description === undefined ? {} : { description }),
    }),
  );
}

/** What a route answers with, as JSON Schema. More may stand beside it one day: objects are left open. */
export const answerSchema = (answers: z.ZodType): JsonSchema => {
  const { $schema, ...rest } = z.toJSONSchema(answers, {
    io: 'output',
    unrepresentable: 'any',
    override: ({ jsonSchema }) => {
      if (jsonSchema.additionalProperties === false) delete jsonSchema.additionalProperties;
    },
  }) as JsonSchema;
  return rest;
};

/** Lists each needed field in its object, and takes the marks off. */
function withRequired(part: unknown): unknown {
  if (Array.isArray(part)) return part.map(withRequired);
  if (typeof part !== 'object' || part === null) return part;
  const all = Object.fromEntries(
    Object.entries(part)
      .filter(([name]) => name !== needed && name !== '$schema')
      .map(([name, value]) => [name, withRequired(value)]),
  );
  if (all.type !== 'object') return all;
  const fields = ((part as JsonSchema).properties ?? {}) as Record<string, JsonSchema>;
  const required = [
    ...new Set([
      ...((all.required as string[] | undefined) ?? []),
      ...Object.keys(fields).filter((name) => fields[name]?.[needed] === true),
    ]),
  ].filter((name) => name !== 'version');
  const { required: _, ...rest } = all;
  return required.length === 0 ? rest : { ...rest, required };
}

/** Whether a body holds what was read before: the version that is counted of it. */
export const namesVersion = (schema: JsonSchema): boolean =>
  'version' in ((schema.properties ?? {}) as object) ||
  ((schema.allOf ?? []) as JsonSchema[]).some(namesVersion);
