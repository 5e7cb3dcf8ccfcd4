import { globSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { routeAccess } from '../../src/route-access.ts';

const registered = /\b(?:app|scope)\.(get|post|put|patch|delete)(?:<[^(]*>)?\(\s*'(\/[^']*)'/g;

/** Routes of the sources that have no line in the table of who may ask for them: the service would not start. */
export function inspectRoutes(root: string): string[] {
  return globSync('src/**/*.ts', { cwd: root }).flatMap((file) =>
    [...readFileSync(join(root, file), 'utf8').matchAll(registered)]
      .map(([, method = '', url = '']) => `${method.toUpperCase()} ${url}`)
      .filter((name) => routeAccess[name] === undefined)
      .map((name) => `${file}: src/route-access.ts does not say who may ask for "${name}".`),
  );
}
