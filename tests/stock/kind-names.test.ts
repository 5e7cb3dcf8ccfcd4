import { describe, expect, test } from 'vitest';
import { kindFinder } from '../../src/stock/kinds/kind-names.rules.ts';

const finder = kindFinder([
  { id: '1', name: 'Fungia fungites', names: ['Fungia fungites', 'plate coral'] },
  { id: '2', name: 'Acropora millepora', names: ['Acropora millepora'] },
  { id: '3', name: 'Stylophora pistillata', names: ['Stylophora pistillata'] },
]);

describe('the kind that a name in a list is most like', () => {
  test.each([
    ['green plate coral', 'Fungia fungites'],
    ['plaet coral', 'Fungia fungites'],
    ['Acropora milepora', 'Acropora millepora'],
    ['Acropora millepora, sunset', 'Acropora millepora'],
    ['stylophora pistilata', 'Stylophora pistillata'],
  ])('%s is likely %s', (typed, name) => expect(finder.suggest(typed)).toEqual({ name, isLikely: true }));

  test.each(['Wet slate', 'Plated sun', 'Grey slate'])(
    'a name that is only like one is not filled in: %s',
    (typed) => expect(finder.suggest(typed)?.isLikely ?? false).toBe(false),
  );
});
