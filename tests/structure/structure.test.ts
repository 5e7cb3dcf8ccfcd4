import { globSync, readFileSync } from 'node:fs';
import { mkdir, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { settingNames } from '../../src/platform/config.ts';
import { inspect } from './cruise.ts';

test('an import that runs upwards is found', async () => {
  const dir = await mkdtemp(join(tmpdir(), 'evenwater-structure-'));
  await mkdir(join(dir, 'src/water'), { recursive: true });
  await mkdir(join(dir, 'src/watch'), { recursive: true });
  await writeFile(join(dir, 'src/alerts/alerts.ts'), 'export const open = 1;\n');
  await writeFile(
    join(dir, 'src/water/readings/readings.ts'),
    "import { open } from '../watch/alerts.ts';\nexport const seen = open;\n",
  );
  const { modules, violations } = await inspect(dir, ['src']);
  await rm(dir, { recursive: true });
  expect(modules).toBe(2);
  expect(violations).toEqual([
    'water-imports-downwards: src/water/readings/readings.ts -> src/alerts/alerts.ts',
  ]);
});

test('README and DEVELOPERS name every setting and every command they speak of exists', async () => {
  const readme = await readFile('README.md', 'utf8');
  const developers = await readFile('DEVELOPERS.md', 'utf8');
  const scripts = Object.keys(
    (JSON.parse(await readFile('package.json', 'utf8')) as { scripts: object }).scripts,
  );
  for (const name of settingNames)
    expect(readme, `README lacks the setting ${name}`).toContain(`\`${name}\``);
  const spoken = [...`${readme}\n${developers}`.matchAll(/npm run ([a-z:]+)/g)].map((match) => match[1]);
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
