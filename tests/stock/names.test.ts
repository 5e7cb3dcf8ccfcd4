import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import {
  checkScientificName,
  checkTradeName,
  type LibraryName,
} from '../../src/stock/kinds/name-check.rules.ts';
import { libraryNames } from '../../src/stock/kinds/name-check.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

// Names as people write them, held against the library a farm starts with.

let bench: Bench;
let shelf: Shelf;
let hand: Visitor;
let library: LibraryName[];

beforeAll(async () => {
  bench = await startBench({ watching: false });
  shelf = await makeShelf(bench);
  hand = await bench.as('hand');
  library = await libraryNames(bench.service.db);
});
afterAll(() => bench.close());

const keptAs = (code: string) => {
  const kind = library.find(({ name }) => name === code);
  if (kind === undefined) throw new Error(`no ${code}`);
  return kind;
};

describe('a scientific name', () => {
  test.each([
    ['Goniastrea retiformis', 'as the library has it', []],
    ['goniastrea RETIFORMIS', 'in other letters', []],
    ['Goniastrea', 'the genus alone', []],
    ['Goniastrea retiformis (old)', 'with what is not its name', ['genus: ']],
    ['Favia favus', 'an older name of another kind', ['other_name: Dipsastraea favus', 'conflict: ']],
    ['Goniastrea retiformus', 'with a slip', ['spelling: Goniastrea retiformis']],
    [
      'Goniastraea edwardsi',
      'with a slip in a genus whose species is not known',
      ['spelling: Goniastrea edwardsi'],
    ],
    ['Goniastrea edwardsi', 'a species the library does not have', ['genus: ']],
    ['Madeupia longinqua', 'nobody knows', ['unknown: ']],
    ['Palythoa tuberculosa', 'of another group', ['conflict: ']],
    ['Favites pentagona', 'of another kind of its group', ['conflict: ']],
    ['Favites', 'of another genus of its group', ['conflict: ']],
    ['Goniastrea retifromis', 'with two letters that changed places', ['spelling: Goniastrea retiformis']],
    ['Goniastrea cf. retiformis', 'with a doubt in it', ['spelling: Goniastrea retiformis']],
    ['Goniastrea ?retiformis', 'with a guess in it', ['spelling: Goniastrea retiformis']],
    ['G. retiformis', 'cut short', ['spelling: Goniastrea retiformis']],
    ['Goniastrea retiformis (Lamarck, 1816)', 'with its author', []],
    ['Goniastrea (Goniastrea) retiformis', 'with its subgenus', []],
    ['Goniastrea retiformis × Goniastrea favulus', 'as a cross', ['cross: ']],
    ['Goniastrea retiformis x pectinata', 'as a cross, the genus once', ['cross: ']],
    ['Acropora tenuis × millepora', 'as a cross of another group', ['cross: ', 'conflict: ']],
    [
      'Palythoa cf. tuberculosa',
      'with a doubt, of another group',
      ['spelling: Palythoa tuberculosa', 'conflict: '],
    ],
    ['鹿角珊瑚', 'in other letters than the library', ['unknown: ']],
  ])('%s: %s', (name, _, says) => {
    const notes = checkScientificName(name, keptAs('Goniastrea retiformis'), library);
    expect(notes.map(({ what, suggestion }) => `${what}: ${suggestion}`)).toEqual(says);
  });

  test('no name of the library is taken for a slip of another', () => {
    for (const kind of library)
      expect(checkScientificName(kind.name, kind, library).filter(({ what }) => what !== 'genus')).toEqual(
        [],
      );
  });
});

test('a trade name is a name of the library, or the name of a line that nobody can prove', () => {
  const kept = keptAs('Goniastrea retiformis');
  expect(checkTradeName('Harbour Light', kept, library)).toMatchObject([{ what: 'unproven' }]);
  expect(checkTradeName('', kept, library)).toEqual([]);
  expect(checkTradeName('Zoanthus sociatus', kept, library)).toMatchObject([{ what: 'conflict' }]);
  expect(checkTradeName('Zoanthus sociatis', kept, library)).toMatchObject([
    { what: 'conflict', suggestion: 'Zoanthus sociatus' },
  ]);
  expect(checkTradeName('Favites pentagona', kept, library)).toMatchObject([{ what: 'conflict' }]);
  expect(checkTradeName('Favites pentagona', keptAs(kept.groupName), library)).toEqual([]);
});

describe('at entry', () => {
  const opinion = (scientificName: string, more = {}) => ({
    ...{
      scientificName,
      identificationQualifier: '',
      identifiedBy: 'Ines Varga',
      dateIdentified: '2026-05-01',
    },
    ...{ identificationRemarks: '', ...more },
  });
  const named = (lotId: string) => bench.service.db.identification.findMany({ where: { lotId } });

  test('a slip is asked about, and taken as typed only when somebody says so', async () => {
    const lot = await shelf.lot();
    const asked = await hand.post(`/lots/${lot.id}/identifications`, opinion('Goniastrea retiformus'));
    expect(asked.status).toBe(409);
    expect(asked.body).toContain('Did you mean Goniastrea retiformis?');
    expect(asked.body).toContain('It is meant as typed');
    expect(await named(lot.id)).toHaveLength(0);
    const taken = await hand.post(
      `/lots/${lot.id}/identifications`,
      opinion('Goniastrea retiformus', { asTyped: 'yes' }),
    );
    expect(taken.status).toBe(303);
    expect(await named(lot.id)).toMatchObject([{ scientificName: 'Goniastrea retiformus' }]);
    expect((await hand.get(`/stock/${lot.code}`)).body).toContain('Did you mean Goniastrea retiformis?');
  });

  test('a name of another group is asked about, as JSON too, and stays on the record', async () => {
    const lot = await shelf.lot();
    const api = await hand.send(`/api/lots/${lot.id}/identifications`, opinion('Palythoa tuberculosa'));
    expect(api.status).toBe(409);
    const sure = opinion('Palythoa tuberculosa', { asTyped: true });
    expect((await hand.send(`/api/lots/${lot.id}/identifications`, sure)).status).toBe(201);
    const { body } = await hand.get(`/stock/${lot.code}`);
    expect(body).toContain('The library keeps Palythoa tuberculosa among Zoanthids');
    expect(body).toContain('May hold a strong poison');
  });

  test('a trade name of another kind is taken as typed, and said at once and on the record', async () => {
    const taken = await hand.post('/stock', {
      ...{ kindId: 'Acropora tenuis', tradeName: 'Zoanthus sociatus', pieces: '2', dateIdentified: '' },
    });
    expect(taken.status, taken.body).toBe(303);
    const { body } = await hand.get(taken.location ?? '');
    expect(body).toContain('Look at the name. It is sold as “Zoanthus sociatus”');
  });

  test('a kind that is misspelt is refused with the one that may be meant', async () => {
    const refused = await hand.post('/stock', { kindId: 'Goniastrea retiformus', pieces: '2' });
    expect(refused.body).toContain('Did you mean Goniastrea retiformis?');
  });
});
