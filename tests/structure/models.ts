/** A model of `schema.prisma`: its table, and which model each of its relations leads to. */
export interface Model {
  table: string;
  relations: Map<string, string>;
}

/** Models by the name the client gives them (`lot`, `lotPlace`). */
export type Models = ReadonlyMap<string, Model>;

const clientName = (model: string) => `${model.slice(0, 1).toLowerCase()}${model.slice(1)}`;

/** Reads the models of a `schema.prisma`. */
export function modelsIn(schema: string): Models {
  const blocks = [...schema.matchAll(/^(?:model|view) (\w+) \{\n([\s\S]*?)^\}/gm)].map(
    ([, name = '', body = '']) => ({ name, body }),
  );
  const known = new Set(blocks.map(({ name }) => name));
  return new Map(
    blocks.map(({ name, body }) => {
      const table = /@@map\("(\w+)"\)/.exec(body)?.[1] ?? name;
      const fields = [...body.matchAll(/^ {2}(\w+)\s+(\w+)/gm)];
      const relations = fields.flatMap(([, field = '', type = '']) =>
        known.has(type) ? [[field, clientName(type)] as const] : [],
      );
      return [clientName(name), { table, relations: new Map(relations) }];
    }),
  );
}
