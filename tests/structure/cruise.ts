import { cruise, type ICruiseResult } from 'dependency-cruiser';
import { rules } from './rules.ts';

/** What the structure rules say of a folder: how many modules were read, and each violation in a line. */
export async function inspect(
  baseDir: string,
  folders: string[],
): Promise<{ modules: number; violations: string[] }> {
  const result = await read(baseDir, folders);
  const violations = result.summary.violations.map(({ rule, from, to }) => `${rule.name}: ${from} -> ${to}`);
  return {
    modules: result.modules.filter((module) => !module.source.includes('node_modules')).length,
    violations,
  };
}

/** Every import among the modules of some folders, of types as well as of values. */
export async function importsOf(baseDir: string, folders: string[]): Promise<{ from: string; to: string }[]> {
  const { modules } = await read(baseDir, folders);
  return modules.flatMap(({ source, dependencies }) =>
    dependencies.flatMap(({ resolved }) =>
      resolved.startsWith('src/') ? [{ from: source, to: resolved }] : [],
    ),
  );
}

async function read(baseDir: string, folders: string[]): Promise<ICruiseResult> {
  const { output } = await cruise(folders, {
    baseDir,
    validate: true,
    ruleSet: rules,
    parser: 'swc',
    tsPreCompilationDeps: true,
    doNotFollow: { path: 'node_modules' },
    exclude: { path: '^src/generated' },
  });
  return output as ICruiseResult;
}
