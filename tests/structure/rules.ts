import type { IConfiguration } from 'dependency-cruiser';

const areasAbove: Record<string, string[]> = {
  science: ['farm', 'stock', 'water', 'watch', 'rounds', 'digest', 'tags', 'intake', 'people', 'platform'],
  platform: ['farm', 'stock', 'water', 'watch', 'rounds', 'digest', 'tags', 'intake', 'people'],
  people: ['farm', 'stock', 'water', 'watch', 'rounds', 'digest', 'tags', 'intake'],
  water: ['farm', 'stock', 'watch', 'rounds', 'digest', 'tags', 'intake'],
  farm: ['stock', 'water', 'watch', 'rounds', 'digest', 'tags', 'intake'],
  stock: ['water', 'watch', 'rounds', 'digest', 'tags', 'intake'],
  watch: ['rounds', 'digest', 'tags', 'intake'],
  intake: ['farm', 'stock', 'watch', 'rounds', 'digest', 'tags'],
  browser: ['farm', 'stock', 'water', 'watch', 'rounds', 'digest', 'tags', 'intake', 'people', 'platform'],
};

const oneWay = Object.entries(areasAbove).map(([area, above]) => ({
  name: `${area}-imports-downwards`,
  severity: 'error' as const,
  comment: `src/${area} imports nothing of the areas that stand above it.`,
  from: { path: `^src/${area}/` },
  to: { path: `^src/(${above.join('|')}|app|main|start)(/|\\.ts)` },
}));

/** Which way imports may run. */
export const rules: IConfiguration = {
  forbidden: [
    ...oneWay,
    {
      name: 'no-circles',
      severity: 'error',
      from: {},
      to: { circular: true, viaOnly: { dependencyTypesNot: ['type-only'] } },
    },
    {
      name: 'science-is-pure',
      severity: 'error',
      comment: 'Science does no I/O.',
      from: { path: '^src/science/' },
      to: { dependencyTypes: ['core'] },
    },
    {
      name: 'rules-are-pure',
      severity: 'error',
      comment: 'Decisions and rules touch neither the database nor the web.',
      from: { path: '\\.rules\\.ts$|^src/watch/rules/' },
      to: { path: '^src/generated|node_modules/(pg|fastify)/', dependencyTypesNot: ['type-only'] },
    },
    {
      name: 'src-without-tests',
      severity: 'error',
      from: { path: '^(src|seed)/' },
      to: { path: '^tests/' },
    },
    {
      name: 'only-main-imports-seed',
      severity: 'error',
      from: { path: '^src/', pathNot: '^src/main\\.ts$' },
      to: { path: '^seed/' },
    },
  ],
};
