import { globSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { journalKinds } from '../../src/platform/journal-kinds.ts';

/** Kinds that are put together where they are recorded: `work.record(`reading.${trust}`, ...)`. */
const composed = /\bwork\.record\(\s*`([^`]*)`/g;

test('every kind of journal line is recorded somewhere: the types see to it that every recorded kind is listed', () => {
  const code = globSync(['src/**/*.ts', 'seed/**/*.ts'])
    .filter((file) => !/generated|journal-kinds/.test(file))
    .map((file) => readFileSync(file, 'utf8'))
    .join('\n');
  const patterns = [...code.matchAll(composed)].map(
    ([, text = '']) => new RegExp(`^${text.replaceAll('.', '\\.').replace(/\$\{[^}]*\}/g, '[a-z_]+')}$`),
  );
  expect(patterns.length).toBeGreaterThan(0);
  const unused = Object.keys(journalKinds).filter(
    (kind) => !code.includes(`'${kind}'`) && !patterns.some((pattern) => pattern.test(kind)),
  );
  expect(unused).toEqual([]);
});

test('a kind says what was done, and to which noun', () => {
  for (const [kind, nouns] of Object.entries(journalKinds)) {
    expect(kind).toMatch(/^[a-z_]+\.[a-z_ ]+$/);
    expect(nouns.length, kind).toBeGreaterThan(0);
  }
});
