import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { CARE_FIGURE_NAMES } from '../../seed/care.schema.ts';
import { kindCare } from '../../src/stock/kinds/care.ts';
import { FIGURE_NAMES } from '../../src/stock/kinds/care-figures.ts';
import { scientificNameWords } from '../../src/stock/lots/identifications.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeShelf, type Shelf } from './shelf.ts';

test('the figures people read are those of the care library', () => {
  expect([...FIGURE_NAMES].sort()).toEqual([...CARE_FIGURE_NAMES].sort());
});

// Open nomenclature: the qualifier stands before the epithet in doubt (Darwin Core, identificationQualifier).
test.each([
  ['Goniastrea edwardsi', 'cf.', 'Goniastrea cf. edwardsi'],
  ['Goniastrea edwardsi', '', 'Goniastrea edwardsi'],
  ['Goniastrea', 'sp.', 'Goniastrea sp.'],
  ['Goniastrea', 'cf.', 'Goniastrea cf.'],
  ['Goniastrea edwardsi', '?', 'Goniastrea edwardsi ?'],
])('%s with %s is written %s', (name, qualifier, written) => {
  expect(scientificNameWords(name, qualifier)).toBe(written);
});

describe('kinds and their care', () => {
  let bench: Bench;
  let shelf: Shelf;
  let hand: Visitor;
  let manager: Visitor;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    shelf = await makeShelf(bench);
    hand = await bench.as('hand');
    manager = await bench.as('manager');
  });
  afterAll(() => bench.close());

  test('are listed by group, figures in the farm’s units with their sources', async () => {
    const { body } = await hand.get('/kinds');
    expect(body).toContain('Zoanthids');
    expect(body).toContain('Palythoa tuberculosa');
    expect(body).toContain('dKH');
    expect(body).toContain('Common practice.');
    expect(body).not.toContain('Add a kind');
  });

  test('a renamed kind keeps its lots, and the old name still finds them', async () => {
    const kindId = await shelf.kind('dipsastraea-favus');
    const lot = await shelf.lot({ kindId });
    const { version, alsoCalled } = await bench.service.db.kind.findUniqueOrThrow({ where: { id: kindId } });
    const edit = { name: 'Novastraea favus', alsoCalled: alsoCalled.join(', '), version };
    expect((await manager.post('/kinds/dipsastraea-favus/details', edit)).status).toBe(303);
    for (const name of ['Novastraea', 'Dipsastraea favus', 'Favia favus']) {
      expect((await hand.get(`/stock?q=${encodeURIComponent(name)}`)).body, name).toContain(lot.code);
    }
    expect((await bench.service.db.lot.findUniqueOrThrow({ where: { id: lot.id } })).kindId).toBe(kindId);
    const late = await manager.post('/kinds/dipsastraea-favus/details', { ...edit, name: 'Another' });
    expect(late.status).toBe(409);
    expect(late.body).toContain('value="Another"');
  });

  test('a kind is added under a group and has its care', async () => {
    const form = {
      groupId: await shelf.kind('zoanthids'),
      name: 'Zoanthus gigantus',
      alsoCalled: 'giant mat',
    };
    expect((await hand.post('/kinds', form)).status).toBe(403);
    expect((await manager.post('/kinds', form)).location).toBe('/kinds/zoanthus-gigantus');
    const care = (await kindCare(bench.service.pool)).get(await shelf.kind('zoanthus-gigantus'));
    expect(care?.caution?.words).toContain('palytoxin');
    expect((await manager.post('/kinds', form)).status).toBe(409);
  });

  test('a figure set by the manager is the farm’s own choice, typed in the farm’s unit', async () => {
    const path = '/kinds/zoanthus-sociatus/care/alkalinity';
    expect((await manager.get(path)).body).toContain('dKH');
    const odd = await manager.post(path, { low: 9, high: 8, reason: 'A try' });
    expect(odd.status).toBe(422);
    expect(odd.body).toContain('is above');
    expect((await manager.post(path, { low: 8, high: 9, reason: 'Steady here for years' })).status).toBe(303);
    const care = (await kindCare(bench.service.pool)).get(await shelf.kind('zoanthus-sociatus'));
    // 1 meq/L = 2.804 dKH (10 mg/L CaO a degree).
    expect(care?.alkalinity?.low).toBeCloseTo(8 / 2.804, 3);
    expect(care?.alkalinity).toMatchObject({
      from: 'taxon',
      basis: 'own_choice',
      source: 'Steady here for years',
    });
    await manager.post(`${path}/removal`, { reason: 'No longer so' });
    const after = (await kindCare(bench.service.pool)).get(await shelf.kind('zoanthus-sociatus'));
    expect(after?.alkalinity?.from).toBe('group');
  });

  test('a figure of the library cannot be removed, and an unknown figure is not found', async () => {
    const library = await manager.post('/kinds/parazoanthus-gracilis/care/feeding/removal', { reason: 'No' });
    expect(library.status).toBe(422);
    expect((await manager.get('/kinds/zoanthus-sociatus/care/colour')).status).toBe(404);
  });

  test('a change of care re-evaluates the systems of the lots that inherit it', async () => {
    await shelf.lot({ kindId: await shelf.kind('zoanthus-vietnamensis'), slotIds: [shelf.slot('A1')] });
    const sent: string[] = [];
    const { jobs } = bench.service;
    const send = jobs.send.bind(jobs);
    jobs.send = async (tx, queue, data) => {
      sent.push(queue);
      return send(tx, queue, data);
    };
    await manager.post('/kinds/zoanthids/care/par_ceiling', { high: 240, reason: 'Paled at 245' });
    jobs.send = send;
    expect(sent).toEqual(['evaluate']);
  });
});
