import { cruise, type ICruiseResult } from 'dependency-cruiser';
import { rules } from './rules.ts';

/** What the structure rules say of a folder: how many modules were read, and each violation in a line. */
export async function inspect(
  baseDir: string,
  folders: string[],
): Promise<{ modules: number; violations: string[] }> {
  const { output } = await cruise(folders, {
    baseDir,
    validate: true,
    ruleSet: rules,
    parser: 'swc',
    tsPreCompilationDeps: true,
    doNotFollow: { path: 'node_modules' },
    exclude: { path: '^src/generated' },
  });
  const result = output as ICruiseResult;
  const violations = result.summary.violations.map(({ rule, from, to }) => `${rule.name}: ${from} -> ${to}`);
  return {
    modules: result.modules.filter((module) => !module.source.includes('node_modules')).length,
    violations,
  };
}
