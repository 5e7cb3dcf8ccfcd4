import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { findDigest } from '../../src/digest/digests.ts';
import { digestLetter } from '../../src/digest/mail.ts';
import { listGroups } from '../../src/exports/lists/lists.ts';
import { localDay } from '../../src/platform/days.ts';
import { routeAccess } from '../../src/route-access.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { linksOf, patternOf, type Walked, walk } from '../support/crawl.ts';
import { type DemoBench, demoNow, startDemoBench } from '../support/demo-bench.ts';
import { type Said, saidInHtml, saidInJson, twice, unmarked, wordsOfFigures } from '../support/figures.ts';
import type { Visitor } from '../support/service.ts';
import { sentencesOf, slipsIn } from '../support/slips.ts';
import { toldAnswers, unlike } from '../support/told-answers.ts';

// A figure of one thing has one value on every page, in every letter and file and by every interface that says it.

/** Addresses with an id in them, for each interface and file; a new one has to be named here. */
async function interfaces({ service, siteId }: DemoBench, today: string): Promise<Record<string, string[]>> {
  const { db } = service;
  const id = { select: { id: true } };
  const systems = await db.system.findMany({ where: { retiredAt: null }, ...id });
  const [racks, lots] = [
    await db.rack.findMany(id),
    await db.lot.findMany({ where: { siteId, pieces: { gt: 0 } } }),
  ];
  const [plans, acclimations] = [await db.movePlan.findMany(id), await db.acclimation.findMany(id)];
  const stocktakes = await db.stocktake.findMany(id);
  const [corrections, rounds] = [
    await db.correction.findMany(id),
    await db.round.findMany({ ...id, take: 2 }),
  ];
  const each = (rows: readonly { id: string }[], path: (id: string) => string) =>
    rows.map((row) => path(row.id));
  const ofSystem = (path: string) => each(systems, (one) => path.replace(':id', one));
  const asked = (path: string) => each(systems, (one) => `${path}?systemId=${one}`);
  return {
    'GET /api/racks/:id': each(racks, (one) => `/api/racks/${one}`),
    'GET /api/moves/meaning': [],
    'GET /api/move-plans': ['/api/move-plans'],
    'GET /api/move-plans/:id': each(plans, (one) => `/api/move-plans/${one}`),
    'GET /api/lots/:code': lots.map(({ code }) => `/api/lots/${code}`),
    'GET /api/openapi.json': ['/api/openapi.json'],
    'GET /api/lists': ['/api/lists'],
    'GET /api/lists/:list': ['/api/lists/alerts', '/api/lists/readings'],
    'GET /api/acclimations': ['/api/acclimations'],
    'GET /api/acclimations/:id': each(acclimations, (one) => `/api/acclimations/${one}`),
    'GET /api/lots': ['/api/lots'],
    'GET /api/scan': lots.slice(0, 1).map(({ code }) => `/api/scan?read=${code}`),
    'GET /water/systems/:id/readings.csv': ofSystem('/water/systems/:id/readings.csv'),
    'GET /water/systems/:id/doses.csv': ofSystem('/water/systems/:id/doses.csv'),
    'GET /water/systems/:id/feedings.csv': ofSystem('/water/systems/:id/feedings.csv'),
    'GET /water/systems/:id/water-changes.csv': ofSystem('/water/systems/:id/water-changes.csv'),
    'GET /api/systems/:id/targets': ofSystem('/api/systems/:id/targets'),
    'GET /api/survival': ['/api/survival'],
    'GET /api/stocktakes/:id': each(stocktakes, (one) => `/api/stocktakes/${one}`),
    'GET /api/stock/forecast': ['/api/stock/forecast'],
    'GET /api/routines': asked('/api/routines'),
    'GET /api/systems/:id/test-schedule': ofSystem('/api/systems/:id/test-schedule'),
    'GET /api/systems/:id/due': ofSystem('/api/systems/:id/due'),
    'GET /api/systems/:id/demand': ofSystem('/api/systems/:id/demand'),
    'GET /api/systems/:id/corrections': ofSystem('/api/systems/:id/corrections'),
    'GET /api/corrections/:id': each(corrections, (one) => `/api/corrections/${one}`),
    'GET /api/readings': asked('/api/readings'),
    'GET /api/systems/:id/series': ofSystem('/api/systems/:id/series?quantity=alkalinity'),
    'GET /api/water-changes': asked('/api/water-changes'),
    'GET /api/doses': asked('/api/doses'),
    'GET /api/feedings': asked('/api/feedings'),
    'GET /export/:list.csv': listGroups.flatMap(({ lists }) =>
      lists.map(({ slug }) => `/export/${slug}.csv`),
    ),
    'GET /journal.csv': ['/journal.csv'],
    'GET /stock/imports/:id/refused.csv': [],
    'GET /water/imports/:id/refused.csv': [],
    'GET /water/log-files/:id/refused.csv': [],
    'GET /api/alerts': ['/api/alerts'],
    'GET /api/emergencies': ['/api/emergencies'],
    'GET /api/rounds/:id': each(rounds, (one) => `/api/rounds/${one}`),
    'GET /api/rounds/:id/latest': each(rounds, (one) => `/api/rounds/${one}/latest`),
    'GET /api/switched-off': ['/api/switched-off'],
    'GET /api/digests/:day': [`/api/digests/${today}`],
  };
}

/** What a letter says, without the encoding that carries it. */
const decoded = (letter: Buffer) =>
  Buffer.from(
    letter
      .toString('latin1')
      .replace(/=\r?\n/g, '')
      .replace(/=([0-9A-F]{2})/g, (_, hex: string) => String.fromCharCode(Number.parseInt(hex, 16))),
    'latin1',
  ).toString('utf8');

const otherUnits = {
  ...{ volume: 'gal (US)', length: 'in', mass: 'oz' },
  ...{ temperature: 'degF', alkalinity: 'meq/L', salinity: 'SG 25/25' },
};

/** Pages that name the units of what is written down, published or printed, with the reason. */
const named = [
  { kind: /^\/(glossary|water\/units|people\/keys|export)/, why: 'they explain units' },
  { kind: /^\/journal/, why: 'it says what was stored' },
  { kind: /^\/(kinds|stock\/pests|stock\/:code\/care)/, why: 'they quote what was published' },
  {
    kind: /^\/water\/(kits|methods|log-files|imports|probes)/,
    why: 'a leaflet and a file have units of their own',
  },
  { kind: /^\/(tags|t|labels)\b/, why: 'a record is frozen, and paper is cut in millimetres' },
];

/** What a page says in metric units, without choices, what was typed, and the sources of figures. */
function metricIn(body: string): string[] {
  const text = body
    .replace(/<option[^>]*>[^<]*<\/option>|<(script|style)[\s\S]*?<\/\1>/g, ' ')
    .replace(
      /<(\w+)[^>]*class="[^"]*as-entered[^"]*"[^>]*>[\s\S]*?<\/\1>|<(\w+)[^>]*class="[^"]*source[^"]*"[^>]*>[\s\S]*?<\/\2>/g,
      ' ',
    )
    .replace(/<[^>]+>/g, ' ')
    .replace(/\s+/g, ' ')
    // A pace stays as it was decided, with its source as it was published.
    .replace(
      /(?:(?:Less|More) than the usual [\d.]+ \S+ a day\. )?(?:Own choice\. )?Common practice: at most[^.]*\./g,
      ' ',
    );
  return [...text.matchAll(/.{0,60}\d (?:L|litres?|°C|cm|dKH)\b(?![/-]).{0,20}/g)].map(([words]) => words);
}

/** The numbers before a unit on a page, in its order. */
const numbersIn = (body: string, unit: string): number[] =>
  [...body.replace(/<[^>]+>/g, ' ').matchAll(/(\d+(?:\.\d+)?)\s+(meq\/L|dKH)/g)]
    .filter(([, , found]) => found === unit)
    .map(([, value]) => Number(value));

/** "1.4" of each system that a page of steps plans for, and of what its looks are sooner for. */
const oxygenHoursIn = (body: string) => {
  const text = body.replace(/<[^>]+>/g, ' ').replace(/\s+/g, ' ');
  const all = (words: RegExp) => [...text.matchAll(words)].map(([, hour = '']) => hour);
  return { plans: all(/Plan for ([\d.]+) h/g), sooner: all(/down to 4 mg\/L in ([\d.]+) h/g) };
};

describe('on the demo farm', () => {
  let bench: DemoBench;
  let owner: Visitor;
  const said: Said[] = [];
  const bare: string[] = [];
  const slipped = new Set<string>();
  /** Hours of oxygen, as the steps of each kind of trouble say them. */
  const hours = new Map<string, { plans: string[]; sooner: string[] }>();
  let asked: Record<string, string[]>;
  const failed: string[] = [];
  /** What an interface answers otherwise than the document of the doors tells. */
  const otherwise = new Map<string, string>();
  let reached = 0;
  const files = new Map<string, string>();
  /** One page of each kind. */
  const kinds = new Map<string, string>();
  /** Each limit's page has sentences and a unit of its own. */
  let limits: string[];
  let today: string;

  beforeAll(async () => {
    bench = await startDemoBench({ watching: false });
    await evaluateSystems(bench.service, 'all', demoNow);
    owner = await bench.as('owner');
    const { db } = bench.service;
    const systems = await db.system.findMany({ where: { retiredAt: null } });
    const alerts = await db.alert.findMany({ where: { clearedAt: null }, select: { id: true } });
    limits = linksOf((await owner.get('/watch/limits')).body).filter((path) =>
      /^\/watch\/limits\/[^/]+\/[^/?]+$/.test(path),
    );
    const codes = ['alkalinity', 'calcium', 'magnesium', 'nitrate', 'phosphate'];
    const first = [
      '/',
      ...alerts.map(({ id }) => `/watch/${id}`),
      ...limits,
      ...systems.flatMap(({ id }) => [
        ...codes.map((code) => `/water/systems/${id}?quantity=${code}&days=90`),
        ...codes.map((code) => `/water/systems/${id}/demand?quantity=${code}`),
        ...['nitrate', 'phosphate'].map((code) => `/water/systems/${id}/nutrients?quantity=${code}`),
      ]),
      ...(await db.rack.findMany({ select: { id: true } })).map(({ id }) => `/racks/${id}`),
      ...['warm', 'ph-falls', 'alkalinity', 'salinity', 'power', 'oxygen', 'leak'].map(
        (event) => `/emergencies/events/${event}`,
      ),
      ...(await db.equipment.findMany({ where: { kind: 'doser' } })).flatMap(({ id }) => [
        `/farm/equipment/${id}`,
        `/water/dosers/${id}`,
      ]),
    ];
    const read = ({ path, status, body }: Walked) => {
      if (status >= 400) failed.push(`${path}: ${status}`);
      if (/<html/.test(body) && !kinds.has(patternOf(path))) kinds.set(patternOf(path), path);
      said.push(...saidInHtml(body, path));
      if (/^\/emergencies\/events\/(power|oxygen|leak|warm)$/.test(path))
        hours.set(path, oxygenHoursIn(body));
      for (const sentence of /<html/.test(body) ? sentencesOf(body) : [])
        for (const slip of slipsIn(sentence)) slipped.add(`${patternOf(path)} ${slip}`);
      bare.push(...unmarked(body).map((words) => `${path}: ${words}`));
    };
    // Lists as files are asked for below.
    reached = await walk(owner, first, read, /^\/export\/[\w-]+\.csv$/);
    const site = await db.site.findUniqueOrThrow({ where: { id: bench.siteId } });
    today = localDay(demoNow, site.timeZone);
    asked = await interfaces(bench, today);
    const told = toldAnswers(JSON.parse((await owner.get('/api/openapi.json')).body));
    const paths = Object.entries(asked).flatMap(([route, some]) => some.map((path) => ({ route, path })));
    for (const { route, path } of paths) {
      const { status, body } = await owner.get(path);
      if (status >= 400) failed.push(`${path}: ${status} ${body.slice(0, 120)}`);
      if (!path.startsWith('/api/')) files.set(path, body);
      else {
        const answer: unknown = JSON.parse(body);
        said.push(...saidInJson(answer, path));
        const difference = route.endsWith('openapi.json') ? '' : unlike(told(route), answer);
        if (difference !== '') otherwise.set(route, `${path}: ${difference}`);
      }
    }
  }, 1_400_000);
  afterAll(() => bench.close());

  test('every link that the owner can follow from Today answers, and every interface, and every interface is asked', () => {
    expect(failed).toEqual([]);
    expect(reached).toBeGreaterThan(100);
    const routes = Object.keys(routeAccess).filter((route) => /^GET (\/api\/|.*\.csv$)/.test(route));
    expect(Object.keys(asked).sort()).toEqual(routes.sort());
  });

  test('every interface answers with what the document of the doors tells, and nothing beside', () => {
    expect(Object.fromEntries(otherwise)).toEqual({});
  });

  test('who reads in other units finds them on every page, and the same figures', async () => {
    const west = await bench.as('owner', 'West');
    const set = await west.post('/account/units', otherUnits);
    expect(set.status, set.body).toBe(303);
    const alerts = await bench.service.db.alert.findMany({ where: { clearedAt: null } });
    const found: string[] = [];
    const asked = [...kinds].filter(([kind]) => !named.some(({ kind: pattern }) => pattern.test(kind)));
    expect(asked.length).toBeGreaterThan(60);
    const others = [...limits, ...alerts.map(({ id }) => `/watch/${id}`)];
    expect(limits.length).toBeGreaterThan(60);
    for (const path of new Set([...asked.map(([, one]) => one), ...others])) {
      for (const words of metricIn((await west.get(path)).body)) found.push(`${path}: ${words}`);
    }
    expect(found).toEqual([]);
    // An alert says the same to both: 1 meq/L is 2.804 dKH (half the molar mass of CaO, 56.077 g/mol, in tens of mg).
    const compared = [];
    for (const { id } of alerts.filter(({ rule }) => /^alkalinity|out-of-band/.test(rule))) {
      const [theirs = '', ours = ''] = await Promise.all(
        [west, owner].map(async (one) => (await one.get(`/watch/${id}`)).body),
      );
      const [meq, dkh] = [numbersIn(theirs, 'meq/L'), numbersIn(ours, 'dKH')];
      expect(meq.length).toBe(dkh.length);
      compared.push(...meq.map((value, i) => [value, (dkh[i] ?? 0) / 2.80385] as const));
    }
    expect(compared.length).toBeGreaterThan(5);
    for (const [meq, fromDkh] of compared) expect(Math.abs(meq - fromDkh)).toBeLessThan(0.04);
    expect((await west.get('/api/alerts')).body).toBe((await owner.get('/api/alerts')).body);
  });

  test('a figure of one thing has one value wherever it is said', () => {
    expect(twice(said)).toEqual([]);
    const places = Map.groupBy(said, ({ name }) => name);
    const placesOf = (name: string) => new Set(places.get(name)?.map(({ where }) => where)).size;
    for (const name of [
      'nitrate.level',
      'nitrate.production',
      'nitrate.settles',
      'nitrate.plan',
      'water.exchange',
      'alkalinity.use',
      'alkalinity.last',
      'calcium.last',
      'nitrate.last',
      'temperature.last',
      'system.litres',
      'stock.lots',
      'stock.pieces',
      'ready.lots',
      'lot.light',
      'lot.flow',
      'lot.accustomed',
      'slot.light',
      'alerts.today',
    ])
      expect(placesOf(name), name).toBeGreaterThan(1);
  });

  test('the steps of an emergency say the last values that the pages of the water say', () => {
    const there = new Set(
      said.filter(({ where }) => where.startsWith('/emergencies')).map(({ name }) => name),
    );
    expect([...there]).toEqual(
      expect.arrayContaining(['temperature.last', 'alkalinity.last', 'salinity.last']),
    );
  });

  test('hours of oxygen are said alike in the steps of every kind of trouble, and asked for no later', () => {
    const [first, ...others] = [...hours.values()];
    expect(hours.size).toBe(4);
    expect(first?.plans.length).toBeGreaterThan(2);
    for (const { plans, sooner } of others) {
      expect(plans).toEqual(first?.plans);
      for (const hour of sooner) expect(plans).toContain(hour);
    }
    expect([...hours.values()].flatMap(({ sooner }) => sooner).length).toBeGreaterThan(0);
  });

  test('what a container holds is said alike in the list of equipment, of its device and of its doser', () => {
    const places = said.filter(({ name }) => name === 'container.left').map(({ where }) => where);
    for (const place of [/equipment$/, /equipment\/[0-9a-f-]+$/, /doser/])
      expect(
        places.some((where) => place.test(where)),
        `${place}`,
      ).toBe(true);
  });

  test('no page has a sentence that is put together with a slip', () => {
    expect([...slipped]).toEqual([]);
  });

  test('no page says such a figure without its mark', () => {
    expect(bare).toEqual([]);
  });

  test('the file of readings ends with the last value that pages say', () => {
    const lastOf = new Map(
      said.filter(({ name }) => name === 'calcium.last').map(({ of, value }) => [of, value]),
    );
    expect(lastOf.size).toBeGreaterThan(2);
    for (const [system, value] of lastOf) {
      const [head = '', ...lines] = files.get(`/water/systems/${system}/readings.csv`)?.split('\r\n') ?? [];
      const column = (line: string, name: string) => line.split(',')[head.split(',').indexOf(name)] ?? '';
      const own = lines
        .filter((line) => column(line, 'quantity') === 'calcium' && column(line, 'trust') !== 'refuted')
        .sort((a, b) => Date.parse(column(a, 'at')) - Date.parse(column(b, 'at')));
      const last = own.at(-1) ?? '';
      const told = Number(column(last, 'corrected_value') || column(last, 'value'));
      expect(value.replace(/[^\d.]/g, '')).toBe(String(Math.round(told)));
    }
  });

  test('the digest says the same figures as a page, as text and as a letter', async () => {
    const page = await owner.get(`/digest/${today}`);
    const words = wordsOfFigures(/<article[\s\S]*<\/article>/.exec(page.body)?.[0] ?? '');
    expect(words.length).toBeGreaterThan(6);
    const text = (await owner.get(`/digest/${today}/text`)).body;
    const site = await bench.service.db.site.findUniqueOrThrow({ where: { id: bench.siteId } });
    const digest = await findDigest(bench.service, site.id, today);
    const to = { name: 'Ana', email: 'ana@example.org', leave: 'http://localhost/leave' };
    const letter = decoded(await digestLetter(bench.service, site, digest, to));
    for (const said of words) {
      expect(text).toContain(said);
      expect(letter).toContain(said);
    }
  });

  test('a difference would be found, and a sentence without its mark', () => {
    for (const name of ['nitrate.level', 'alkalinity.last', 'lot.light', 'stock.pieces']) {
      const one = said.find((figure) => figure.name === name);
      if (one === undefined) throw new Error(`nobody says ${name}`);
      expect(twice([...said, { ...one, value: `${one.value}1`, where: 'planted' }])).toHaveLength(1);
    }
    expect(unmarked('<p>With the recent water changes it settles at 18.7 mg/L as NO₃.</p>')).toHaveLength(1);
    expect(unmarked('<dt>Light now</dt><dd>142 ± 12 µmol/(m² s)</dd>')).toHaveLength(1);
    expect(unmarked('<p>used 0.30 dKH a day (0.25 to 0.35)</p>')).toHaveLength(1);
  });
});
