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

/** Words that stopped people who read the pages for the first time, each with what to write in its place. */
const refused: readonly [RegExp, string][] = [
  [/may stay empty/, '(optional)'],
  [/\bkept as this kind\b|\bKept as\b(?=")/, 'Type of coral'],
  [/\btends to\b/, 'settles at, heading for'],
  [/that (?:the|these) tests can tell/, 'no use measurable'],
  [/\bstands? (?:under|wrong|nowhere)\b/, 'gets; in a wrong place; has no slot'],
  [/\bstock bears\b|\b(?:kind|kinds) bears?\b|\bbears? at all\b/, 'the safe range; can take'],
  [/\bWhat it (?:keeps|rests on)\b/, 'Target bands; See the readings'],
  [/\bno vote\b/, 'not used until it is checked'],
  [/\bWalk on\b|Leave it as it was/, 'Back to the round; Cancel'],
  [/What it is said to be|Who says so|On what it rests/, 'Species, if known; Identified by; Reasons'],
  [
    /Evidence asked for|four chances in five|nine (?:chances|times) in ten/,
    'Alarm at; 80 % likely; 90 % likely',
  ],
  [/would have been otherwise|worth a word|grows quiet/, 'No difference; that is told; closes'],
  [/\b(?:it|them|out|learnt|judged|set) anew\b/, 'again'],
  [/\ball the same\b/, 'anyway'],
  [/\bhangs on\b|\b(?:on|of|in) the books\b/, 'is on this circuit; is listed'],
  [/\bparted by\b|the mark parts\b/, 'separated by'],
  [/\b(?:became|came) of it\b/, 'Result'],
  [/\bout of force\b/, 'disabled; never bypass it'],
  [/[”"}] is no (?:amount|day|lot|price|size|unit|water|whole number)\b/, '… is not an amount'],
  [/\b(?:It|it) really is so\b|\bhung (?:so|otherwise)\b/, 'It is correct; was moved, was changed'],
  [/\b(?:does|do) not stand in\b|\bstands? in this\b|\bstood (?:there|on) since\b/, 'is in'],
  [
    /\b(?:is|are) another way\b|\bgone astray\b|\bwants? (?:the network|putting right)\b/,
    'changed; missing; needs',
  ],
];

/** What views and files of words say, without comments. */
const said = [
  ...views.map(({ file, text }) => ({ file, text: text.replaceAll(/\{\{!--[\s\S]*?--\}\}/g, '') })),
  ...globSync('src/**/*.ts', { exclude: ['src/generated/**'] }).map((file) => ({
    file,
    text: readFileSync(file, 'utf8').replaceAll(/\/\*[\s\S]*?\*\/|^\s*\/\/.*$/gm, ''),
  })),
];

test('no page, mail or message says what stopped people before', () => {
  const found = refused.flatMap(([word, better]) =>
    said
      .filter(({ text }) => word.test(text))
      .map(({ file, text }) => `${file}: "${word.exec(text)?.[0]}"; write: ${better}`),
  );
  expect(found).toEqual([]);
});
