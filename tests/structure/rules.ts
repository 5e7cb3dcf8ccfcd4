import type { IConfiguration } from 'dependency-cruiser';

/** The areas from the ground up. What stands in one list stands side by side, and neither imports the other. */
export const floors = [
  ['science'],
  ['platform'],
  ['people'],
  ['farm'],
  ['backups'],
  ['alerts'],
  ['stock'],
  ['racks', 'water'],
  ['intake'],
  ['watch'],
  ['rounds', 'tags', 'emergencies'],
  ['digest'],
  ['journal', 'glossary'],
  ['exports'],
];

/** What each area must not import: all that stands above it or beside it. The tablet's code stands on science alone. */
const forbiddenTo: Record<string, string[]> = {
  ...Object.fromEntries(
    floors.flatMap((floor, height) =>
      floor.map((area) => [
        area,
        [...floor.filter((other) => other !== area), ...floors.slice(height + 1).flat()],
      ]),
    ),
  ),
  browser: floors.slice(1).flat(),
};

const oneWay = Object.entries(forbiddenTo).map(([area, above]) => ({
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
