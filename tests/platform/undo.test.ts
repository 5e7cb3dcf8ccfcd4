import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { routeAccess } from '../../src/route-access.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { files, walk } from '../support/crawl.ts';
import { type PostedForm, postedForms } from '../support/form-controls.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { filled, kindOf, troubleLast } from '../support/typing.ts';

/** A form with the page it stood on and its token. */
type Found = PostedForm & { token: string; page: string };

let bench: Bench;
let hall: Hall;
let owner: Visitor;
/** One form of each kind, and the addresses of those that were undone. */
const forms = new Map<string, Found>();
const undone = new Set<string>();

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  owner = await bench.as('owner', 'Ines Varga');
  const { db } = bench.service;
  await db.site.updateMany({ data: { currency: 'EUR' } });
  const lamp = await db.lamp.create({
    data: { tankId: hall.tankId, name: 'Bars', litHours: 10, rampHours: 2 },
  });
  await db.lampSetting.create({
    data: { lampId: lamp.id, at: new Date('2026-11-01T08:00:00Z'), percent: 60 },
  });
  await db.equipment.create({ data: { systemId: hall.systemId, kind: 'return_pump', name: 'Return' } });
  await db.equipment.create({
    data: { systemId: hall.systemId, kind: 'doser', name: 'Doser', holds: 'limewater', reservoirL: 20 },
  });
  await db.circuit.create({ data: { siteId: hall.siteId, name: 'West wall' } });
  const method = await db.method.findFirstOrThrow({ where: { quantityCode: 'alkalinity' } });
  await db.kit.create({
    data: { methodId: method.id, label: 'First', openedAt: new Date('2026-11-01T08:00:00Z') },
  });
  wholeFarm = await readsWholeFarm();
  await findForms();
});

async function findForms(): Promise<void> {
  const from = [
    '/',
    '/farm',
    '/stock',
    '/water',
    `/stock/${hall.lots.A1.code}`,
    `/water/systems/${hall.systemId}/doses`,
  ];
  await walk(
    owner,
    from,
    ({ path, body }) => {
      for (const form of postedForms(body))
        if (
          form.action !== '' &&
          !forms.has(kindOf(form)) &&
          !/sign-out|^\/(account|people|undo|backups|tags|digest)|\/trials$/.test(form.action)
        )
          forms.set(kindOf(form), { ...form, page: path, token: tokenIn(body) });
    },
    files,
  );
}

afterAll(() => bench.close());

/** Tables that tell what was done, that mean something for a moment only, or that the service fills by itself. */
const passing = [
  'journal_line',
  'request_key',
  'session',
  'digest',
  'letter',
  'undoable_change',
  'undoable_row',
  'fact_mark',
  'reading_origin',
  'reading_rollup',
  'reading_unrolled',
  'system_watch',
  'wrong_try',
  '_prisma_migrations',
  'kept_form',
  'secret',
];

/** Reads every table in one statement, without versions and without entries that were taken back. */
let wholeFarm: string;

async function readsWholeFarm(): Promise<string> {
  const { rows } = await bench.service.pool.query<{ name: string }>(
    `SELECT relname AS name FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace AND NOT relname = ANY ($1) ORDER BY 1`,
    [passing],
  );
  const parts = rows.map(
    ({ name }) => `SELECT '${name}' AS name, (to_jsonb(t) - 'version')::text AS row FROM "${name}" t
      WHERE coalesce(to_jsonb(t) ->> 'void_reason', '') <> 'Undone right after it was saved'`,
  );
  return `SELECT name, array_agg(row ORDER BY row) AS rows FROM (${parts.join(' UNION ALL ')}) AS of GROUP BY name`;
}

/** The whole farm, row by row; a table without rows is left out. */
async function farm(): Promise<Record<string, string[]>> {
  const { rows } = await bench.service.pool.query<{ name: string; rows: string[] }>(wholeFarm);
  return Object.fromEntries(rows.map((table) => [table.name, table.rows]));
}

const undoIn = (page: string) => /action="(\/undo\/[^"]+)"/.exec(page)?.[1] ?? null;
const tokenIn = (page: string) => /name="_csrf" value="([^"]+)"/.exec(page)?.[1] ?? '';

/** Forms whose notice has to offer it. */
const offered = [
  '/farm/circuits/:id',
  '/farm/equipment',
  '/farm/equipment/:id/filling',
  '/farm/equipment/:id/upkeep',
  '/farm/lamps/:id',
  '/farm/racks/:id',
  '/farm/switched-off',
  '/farm/systems/:id',
  '/farm/systems/:id/events',
  '/farm/systems/:id/faults',
  '/farm/tanks/:id/racks',
  '/kinds/:name/care/:name',
  '/lamps/:id/settings/:id/removal',
  '/lots/:id/conditions',
  '/lots/:id/details',
  '/lots/:id/holds',
  '/lots/:id/placements',
  '/racks/:id/flow',
  '/rounds/plans',
  '/water/dosers/:id/levels',
  '/water/kits/:id/checks',
  '/water/kits/:id/retirement',
  '/water/systems/:id/doses',
  '/water/systems/:id/feedings',
  '/water/systems/:id/readings',
  '/water/systems/:id/routines',
  '/water/systems/:id/water-changes',
  '/water/units',
];

/** Sends a form. @returns the page that follows, where it offers to undo it; null where it was refused or cannot be undone */
async function saved(found: Found): Promise<{ page: string; body: string; undo: string } | null> {
  // Drawn anew: versions go on with each change.
  const drawn = postedForms((await owner.get(found.page)).body).find((one) => kindOf(one) === kindOf(found));
  const form = { ...found, ...drawn };
  const referer = { referer: `http://localhost:80${form.page}` };
  const sent = await owner.post(form.action, { _csrf: form.token, ...filled(form) }, referer);
  if (sent.status !== 303 || sent.location === undefined) return null;
  const { body } = await owner.get(sent.location);
  const undo = undoIn(body);
  return undo === null ? null : { page: sent.location, body, undo };
}

describe('undo, from the notice after saving', () => {
  test.each([1, 2, 3])(
    'puts the whole farm back, whatever form of it was saved (part %i of 3)',
    async (part) => {
      const wrong: Record<string, unknown> = {};
      const size = Math.ceil(forms.size / 3);
      for (const [kind, form] of troubleLast(forms).slice((part - 1) * size, part * size)) {
        const before = await farm();
        const after = await saved(form);
        if (after === null) continue;
        const changed = await farm();
        const answer = await owner.post(
          after.undo,
          { _csrf: tokenIn(after.body) },
          { referer: `http://localhost:80${after.page}` },
        );
        const { body, status } = await owner.get(answer.location ?? '/');
        if (status >= 400) wrong[kind] = `leads to ${answer.location}, ${status}`;
        if (!body.includes('Undone. It is as it was before.'))
          wrong[kind] = /class="notice"[^>]*>([^<]*)/.exec(body)?.[1];
        const now = await farm();
        for (const name of new Set([...Object.keys(before), ...Object.keys(now)]))
          if (JSON.stringify(now[name]) !== JSON.stringify(before[name]))
            wrong[`${kind}: ${name}`] = {
              more: now[name]?.filter((row) => !before[name]?.includes(row)).slice(0, 2),
              less: before[name]?.filter((row) => !now[name]?.includes(row)).slice(0, 2),
            };
        if (JSON.stringify(changed) !== JSON.stringify(before)) undone.add(kind.split(' ')[0] ?? '');
      }
      expect(wrong).toEqual({});
    },
  );

  test('is offered where people enter most', () =>
    expect([...undone]).toEqual(expect.arrayContaining([...offered])));

  // What people enter, and where it is put right later than ten minutes after: a page of its own, or an entry beside it.
  test.each([
    ['a reading', 'POST /water/systems/:id/readings', 'POST /water/readings/:id/voiding'],
    ['a dose', 'POST /water/systems/:id/doses', 'POST /water/doses/:id/voiding'],
    ['a water change', 'POST /water/systems/:id/water-changes', 'POST /water/water-changes/:id/voiding'],
    ['a feeding', 'POST /water/systems/:id/feedings', 'POST /water/feedings/:id/voiding'],
    ['a look', 'POST /lots/:id/conditions', 'POST /conditions/:id/voiding'],
    ['a move', 'POST /lots/:id/placements', 'POST /placements/:id/removal'],
    ['which slots are empty', 'POST /stock/slots', 'POST /placements/:id/removal'],
    ['a photo', 'POST /stock/:code/photo', 'POST /photos/:id/voiding'],
    ['a count', 'POST /lots/:id/ledger', 'POST /counts/:id/voiding'],
    ['a sale', 'POST /lots/:id/sales', 'POST /stock/orders/:id/stage'],
    ['an order', 'POST /stock/orders', 'POST /stock/orders/:id/stage'],
    ['a count after a cut', 'POST /lots/:id/healing-looks', 'POST /healing-looks/:id/voiding'],
    ['a size', 'POST /lots/:id/sizes', 'POST /size-measurements/:id/voiding'],
    ['a service', 'POST /farm/equipment/:id/upkeep', 'POST /farm/upkeep/:id/removal'],
    ['what is off', 'POST /farm/switched-off', 'POST /farm/switched-off/:id/voiding'],
    ['an event', 'POST /farm/systems/:id/events', 'POST /farm/systems/:id/events/:eventId/void'],
    ['a kit', 'POST /water/kits', 'POST /removals/:noun/:id'],
    ['a setting of lamps', 'POST /lamps/:id/settings', 'POST /lamps/:id/settings/:setting/removal'],
    ['a light survey', 'POST /racks/:id/surveys', 'POST /racks/:id/surveys/:survey/voiding'],
    ['a treatment', 'POST /stock/pests/:id/treatments', 'POST /pest-treatments/:id/voiding'],
    ['a step of an emergency', 'POST /emergencies/:id/entries', 'POST /emergencies/:id/entries'],
    ['where a probe hangs', 'POST /water/probes', 'POST /water/probes'],
    ['a topic', 'POST /water/topics', 'POST /water/topics/:id/removal'],
  ])('%s has a way back', (_, entered, back) => {
    const known = (route: string) => Object.keys(routeAccess).includes(route);
    expect({ entered: known(entered), back: known(back) }).toEqual({ entered: true, back: true });
  });

  /** Sends a form of a lot, and undoes it from its notice. @returns the farm before and after, and the notice */
  async function doneAndUndone(path: string, resource: string, typed: Record<string, string>) {
    const before = await farm();
    const { body: page } = await owner.get(path);
    const sent = await owner.post(resource, { _csrf: tokenIn(page), ...typed });
    expect(sent.status, sent.body.replace(/[\s\S]*<main/, '')).toBe(303);
    const { body } = await owner.get(sent.location ?? '');
    const undo = undoIn(body);
    if (undo === null) throw new Error(`no undo: ${body.replace(/[\s\S]*<main/, '')}`);
    const between = await farm();
    await owner.post(undo, { _csrf: tokenIn(body) });
    return { before, between, after: await farm(), notice: await noticeOf(owner) };
  }

  test.each([
    ['a loss', 'count', 'ledger', { reason: 'lost', pieces: '1', cause: 'unknown' }],
    [
      'a loss of all, which left its slots',
      'count',
      'ledger',
      { reason: 'lost', pieces: 'all', cause: 'unknown' },
    ],
    ['pieces that came', 'count', 'ledger', { reason: 'received', pieces: '2', cause: '' }],
    ['a recount', 'count', 'ledger', { reason: 'recount', pieces: '5', cause: '' }],
    ['a sale over the counter', 'sale', 'sales', { pieces: '1', buyer: 'A reef club', hold: '' }],
  ])('%s is put back, with the count and the place', async (_, page, resource, typed) => {
    const lot = hall.lots.A1;
    const { pieces } = await bench.service.db.lot.findUniqueOrThrow({ where: { id: lot.id } });
    const form = typed.pieces === 'all' ? { ...typed, pieces: String(pieces) } : typed;
    const done = await doneAndUndone(`/stock/${lot.code}/${page}`, `/lots/${lot.id}/${resource}`, form);
    expect(done.between).not.toEqual(done.before);
    expect(done.notice).toBe('Undone. It is as it was before.');
    expect(done.after).toEqual(done.before);
  });

  test('lines typed in from paper are put back: counts, sizes and looks of all lots', async () => {
    const [first, second] = [hall.lots.A1, hall.lots.A2];
    const line = (code: string, typed: Record<string, string>) =>
      Object.fromEntries(Object.entries(typed).map(([name, value]) => [`${name}_${code}`, value]));
    const codes = `${first.code}.${second.code}`;
    const done = await doneAndUndone(`/stock/paper/typing?ticked=${codes}`, '/stock/paper/typing', {
      ...{ ticked: codes, later: '', at: '' },
      line: [first.code, second.code] as unknown as string,
      ...line(first.code, { pieces: '4', size: '44', state: 'paling', note: 'at the rim' }),
      ...line(second.code, { pieces: '', size: '', state: 'well', note: '' }),
    });
    expect(done.between.condition?.length).toBe((done.before.condition?.length ?? 0) + 2);
    expect(done.between.lot).not.toEqual(done.before.lot);
    expect(done.notice).toBe('Undone. It is as it was before.');
    expect(done.after).toEqual(done.before);
  });

  /** Pieces held by somebody, and the undoing that the notice offers. */
  async function held(by: Visitor) {
    const path = `/stock/${hall.lots.B1.code}/hold`;
    const page = await by.get(path);
    const form = { _csrf: tokenIn(page.body), pieces: '1', buyer: 'A reef club', until: '2026-12-01' };
    const sent = await by.post(`/lots/${hall.lots.B1.id}/holds`, form);
    expect(sent.status, sent.body.replace(/[\s\S]*<main/, '')).toBe(303);
    const { body } = await by.get(sent.location ?? '');
    const undo = undoIn(body);
    if (undo === null) throw new Error(body);
    const hold = await bench.service.db.hold.findFirstOrThrow({ orderBy: { createdAt: 'desc' } });
    return { undo: () => by.post(undo, { _csrf: tokenIn(body) }), undoPath: undo, hold };
  }
  const noticeOf = async (by: Visitor) =>
    /class="notice[^>]*>(?:<[^>]*>)*([^<]*)/.exec((await by.get('/stock')).body)?.[1];
  const isThere = async ({ id }: { id: string }) =>
    (await bench.service.db.hold.count({ where: { id } })) === 1;

  test('twice does it once, stands in the journal, and is offered once', async () => {
    const { undo, hold } = await held(owner);
    expect((await owner.get('/stock')).body).not.toContain('/undo/');
    await undo();
    expect(await isThere(hold)).toBe(false);
    expect(await noticeOf(owner)).toBe('Undone. It is as it was before.');
    await undo();
    expect(await noticeOf(owner)).toBe('This was undone already.');
    const lines = await bench.service.db.journalLine.findMany({
      where: {
        subjectId: hall.lots.B1.id,
        kind: 'change.undone',
        detail: { path: ['did'], equals: 'hold.made' },
      },
    });
    expect(lines).toMatchObject([{ accountId: owner.id, detail: { did: 'hold.made' } }]);
    const journal = await owner.get(`/journal?subject=${hall.lots.B1.id}`);
    expect(journal.body).toContain('Undone right after saving');
  });

  test('is for whoever made the change, for ten minutes', async () => {
    const { undo, undoPath, hold } = await held(owner);
    const other = await bench.as('owner', 'Mia Lund');
    await other.post(undoPath, {});
    expect(await noticeOf(other)).toContain('by whoever made it');
    bench.at(new Date(benchNow.getTime() + 11 * 60_000));
    await undo();
    expect(await noticeOf(owner)).toContain('for 10 minutes');
    expect(await isThere(hold)).toBe(true);
    bench.at(benchNow);
  });

  test('is refused once something was built on it, and nothing is half undone', async () => {
    const { undo, hold } = await held(owner);
    await owner.post(`/holds/${hold.id}/release`, { reason: 'Changed his mind' });
    await undo();
    expect(await noticeOf(owner)).toContain('Something was changed there since');
    expect(await isThere(hold)).toBe(true);
  });
});

test('a browser tells the service, and nobody else, which page it comes from, so that undo leads back to it', async () => {
  for (const page of ['/stock', '/scan'])
    expect((await owner.get(page)).headers['referrer-policy']).toBe('same-origin');
});
