import { globSync, readFileSync } from 'node:fs';
import { mkdir, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { settingNames } from '../../src/platform/config.ts';
import { inspect } from './cruise.ts';
import { unreached } from './reach.ts';
import { circlesOf, longListings } from './rooms.ts';

test('an import that runs upwards is found', async () => {
  const dir = await mkdtemp(join(tmpdir(), 'evenwater-structure-'));
  await mkdir(join(dir, 'src/water'), { recursive: true });
  await mkdir(join(dir, 'src/watch'), { recursive: true });
  await writeFile(join(dir, 'src/watch/alerts.ts'), 'export const open = 1;\n');
  await writeFile(
    join(dir, 'src/water/readings.ts'),
    "import { open } from '../watch/alerts.ts';\nexport const seen = open;\n",
  );
  const { modules, violations } = await inspect(dir, ['src']);
  await rm(dir, { recursive: true });
  expect(modules).toBe(2);
  expect(violations).toEqual(['water-imports-downwards: src/water/readings.ts -> src/watch/alerts.ts']);
});

test('README and DEVELOPERS name every setting and every command they speak of exists', async () => {
  const readme = await readFile('README.md', 'utf8');
  const developers = await readFile('DEVELOPERS.md', 'utf8');
  const scripts = Object.keys(
    (JSON.parse(await readFile('package.json', 'utf8')) as { scripts: object }).scripts,
  );
  for (const name of settingNames)
    expect(readme, `README lacks the setting ${name}`).toContain(`\`${name}\``);
  const spoken = [...`${readme}\n${developers}`.matchAll(/npm run (?:-s )?([a-z:-]+)/g)].map(
    (match) => match[1],
  );
  for (const name of spoken) expect(scripts, `the documents speak of npm run ${name}`).toContain(name);
});

test('the continuous integration runs exactly the command of the README', async () => {
  const [readme, ci] = await Promise.all([readFile('README.md', 'utf8'), readFile('.ci/run', 'utf8')]);
  expect(readme).toContain('npm ci && npm test');
  expect(ci).toContain('npm ci && npm test');
});

test('no two tests share a name within a file', () => {
  const doubled = globSync('tests/**/*.test.ts').flatMap((file) => {
    const names = [...readFileSync(file, 'utf8').matchAll(/^\s*(?:describe|test)\(\s*(['"`])(.*?)\1,/gm)].map(
      (match) => match[2] ?? '',
    );
    return names.filter((name, at) => names.indexOf(name) !== at).map((name) => `${file}: ${name}`);
  });
  expect(doubled).toEqual([]);
});

test('every view that code names is there, and every view is named by code or by another view', () => {
  const views = globSync('views/**/*.hbs').map((file) => file.replace(/^views\//, '').replace(/\.hbs$/, ''));
  const own = views.filter((name) => !/^(layouts|partials)\//.test(name));
  const code =
    globSync('src/**/*.ts')
      .map((file) => readFileSync(file, 'utf8'))
      .join('\n') +
    globSync('views/**/*.hbs')
      .map((file) => readFileSync(file, 'utf8'))
      .join('\n');
  expect(own.filter((name) => !code.includes(`'${name}'`) && !code.includes(`${name}`))).toEqual([]);
});

test('a circle of rooms is found, whether a value or only a type ties it', () => {
  const there = { from: 'src/water/kits/kits.ts', to: 'src/water/readings/readings.ts' };
  const back = { from: 'src/water/readings/series.ts', to: 'src/water/kits/bias.ts' };
  expect(circlesOf([there])).toEqual([]);
  expect(circlesOf([there, back])).toEqual([
    [
      'rooms in a circle: src/water/kits, src/water/readings',
      'src/water/kits/kits.ts -> src/water/readings/readings.ts',
      'src/water/readings/series.ts -> src/water/kits/bias.ts',
    ].join('\n  '),
  ]);
  const door = { from: 'src/science/light.ts', to: 'src/science/light/daily-light.ts' };
  expect(circlesOf([door, { from: 'src/science/light/daily-light.ts', to: 'src/science/heat.ts' }])).toEqual(
    [],
  );
});

test('a listing that is too long to take in is found', () => {
  const files = Array.from({ length: 26 }, (_, i) => `src/water/kits/file-${i}.ts`);
  expect(longListings(files)).toEqual(['a listing of 26 files: src/water/kits']);
  expect(longListings(files.slice(1))).toEqual([]);
});

test('nothing of the sources is there for tests alone', async () => {
  expect(await unreached(process.cwd())).toEqual([]);
});

test('every file that DEVELOPERS names is there', () => {
  const files = globSync('{src,tests,seed,prisma,views}/**/*.{ts,json,hbs,prisma,css}').filter(
    (file) => !file.startsWith('src/generated'),
  );
  const named = readFileSync('DEVELOPERS.md', 'utf8').matchAll(/`(\w[\w./-]+\.(?:ts|json|hbs|prisma))`/g);
  const missing = [...named]
    .map(([, name = '']) => name)
    .filter((name) => !files.some((file) => file === name || file.endsWith(`/${name}`)));
  expect([...new Set(missing)]).toEqual([]);
});
