import { globSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { glossary } from '../../src/glossary/terms.ts';

const views = globSync('views/**/*.hbs').map((file) => ({ file, text: readFileSync(file, 'utf8') }));

const keys = glossary.flatMap(({ terms }) => terms.map(({ key }) => key));

/** The words of the glossary that views lead to. */
const linked = views.flatMap(({ file, text }) =>
  [...text.matchAll(/\{\{> term of="([^"]+)"|\{\{> \w+ [^}]*\bterm="([^"]+)"/g)].map((found) => ({
    file,
    key: found[1] ?? found[2] ?? '',
  })),
);

test('every word that a page leads to is in the glossary, once', () => {
  expect(linked.length).toBeGreaterThan(20);
  expect(linked.filter(({ key }) => !keys.includes(key))).toEqual([]);
  expect(keys.filter((key, at) => keys.indexOf(key) !== at)).toEqual([]);
});

test('the glossary explains each word in two or three short sentences, and says what other people mean by it', () => {
  const terms = glossary.flatMap(({ terms }) => terms);
  expect(
    terms
      .filter(({ text }) => text.split(/(?<=\.|“) (?=[A-Z0-9“±])/).length > 5 || text.length > 330)
      .map(({ key }) => key),
  ).toEqual([]);
  for (const disputed of ['par', 'dkh', 'salinity', 'acclimation', 'mother', 'below-detection', 'dilution'])
    expect(terms.find(({ key }) => key === disputed)?.otherwise, disputed).toBeTruthy();
});
