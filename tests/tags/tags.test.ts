import { randomUUID } from 'node:crypto';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { addLot } from '../../src/stock/lots/lots.ts';
import { makePhoto } from '../../src/stock/lots/photo-image.ts';
import { addPhoto, voidPhoto } from '../../src/stock/lots/photos.ts';
import { type Bench, benchNow, browse, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let hand: Visitor;
let manager: Visitor;
let lot: { id: string; code: string };

async function makeFarm(): Promise<string> {
  const { db } = bench.service;
  const site = await db.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } });
  const system = await db.system.create({ data: { siteId: site.id, name: 'Shallow', volumeL: 960 } });
  const tank = await db.tank.create({
    data: { systemId: system.id, name: 'One', lengthMm: 1, widthMm: 1, heightMm: 1 },
  });
  const lamp = await db.lamp.create({ data: { tankId: tank.id, name: 'Lamps', litHours: 10, rampHours: 0 } });
  await db.lampSetting.create({
    data: { lampId: lamp.id, at: new Date('2026-01-01T00:00:00Z'), percent: 80 },
  });
  const rack = await db.rack.create({
    data: { tankId: tank.id, lampId: lamp.id, name: 'Window', rows: 1, columns: 1, depthMm: 300 },
  });
  const slot = await db.slot.create({ data: { rackId: rack.id, row: 1, column: 1, flow: 'medium' } });
  await db.lightSurvey.create({
    data: {
      rackId: rack.id,
      measuredAt: new Date('2026-02-01T10:00:00Z'),
      meter: 'meter',
      immersionFactor: 1.25,
      lampPercent: 80,
      light: { create: { slotId: slot.id, par: 90, error: 3, measured: true } },
    },
  });
  const kind = await db.kind.findFirstOrThrow({ where: { rank: 'taxon' } });
  const given = { siteId: site.id, kindId: kind.id, pieces: 5, arrivedAt: new Date('2026-03-01T09:00:00Z') };
  const rest = { origin: '', permit: '', sizeMm: 40, isMother: false, note: '', slotIds: [slot.id] };
  const identification = {
    scientificName: 'Goniastrea edwardsi',
    identificationQualifier: 'cf.',
    identifiedBy: 'Ines Varga',
    dateIdentified: '2026-03-02',
    identificationRemarks: '',
  };
  lot = await bench.change((work) => addLot(work, { ...given, ...rest, identification } as never));
  return system.id;
}

const dayBefore = (days: number) => new Date(benchNow.getTime() - days * 86_400_000);

async function addReadings(systemId: string): Promise<void> {
  const reading = (value: number, days: number, trust: 'plain' | 'unconfirmed' = 'plain') => ({
    systemId,
    quantityCode: 'alkalinity',
    at: dayBefore(days),
    value,
    uncertainty: 0.05,
    enteredText: String(value),
    enteredUnit: 'meq/L',
    trust,
  });
  const data = [
    reading(2.9, 1),
    reading(3.0, 2),
    reading(3.1, 3),
    reading(9, 4, 'unconfirmed'),
    reading(2.5, 40),
  ];
  await bench.service.db.reading.createMany({ data });
}

beforeAll(async () => {
  bench = await startBench({ watching: false });
  await addReadings(await makeFarm());
  hand = await bench.as('hand');
  manager = await bench.as('manager');
});
afterAll(() => bench.close());

async function issue(fields: Record<string, unknown> = {}): Promise<string> {
  const answer = await manager.post('/tags', { lot: lot.code, pieces: 1, reason: '', ...fields });
  expect(answer.status, answer.body).toBe(303);
  return String(answer.location).replace('/tags/', '');
}

const publicPage = async (id: string, query = '') => {
  const { token } = await bench.service.db.tag.findUniqueOrThrow({ where: { id } });
  return browse(bench.app).get(`/t/${token}${query}`);
};

describe('a tag', () => {
  test('says what the pieces lived in, to somebody who is signed out and gets no cookie', async () => {
    const page = await publicPage(await issue());
    expect(page.status).toBe(200);
    expect(page.headers['set-cookie']).toBeUndefined();
    expect(page.body).toContain('Goniastrea cf. edwardsi');
    expect(page.body).toContain('uncertain, sold as such');
    expect(page.body).toContain('90 ± 3 at full light, 3.2 mol a day');
    expect(page.body).toContain('unchanged since');
  });

  test('counts 30 days of tests and leaves out what is not confirmed', async () => {
    const { record } = await bench.service.db.tag.findUniqueOrThrow({ where: { id: await issue() } });
    const { water } = JSON.parse(record);
    // 3.0 meq/L is 8.4 dKH (1 meq/L = 2.804 dKH, tests/reference/alkalinity_conversions.csv).
    expect(water).toMatchObject([
      { quantity: 'alkalinity', tests: 3, median: 8.4, low: 8.1, high: 8.7, unit: 'dKH' },
    ]);
  });

  test('says a bound as one, alone and among tests that saw something', async () => {
    const { systemId } = await bench.service.db.reading.findFirstOrThrow();
    const below = (value: number, days: number, belowDetection = true) => ({
      ...{ systemId, quantityCode: 'nitrate', at: dayBefore(days), value, uncertainty: 0.2, belowDetection },
      ...{
        enteredText: belowDetection ? `<${value}` : String(value),
        enteredUnit: 'mg/L',
        trust: 'plain' as const,
      },
    });
    const { db } = bench.service;
    await db.reading.create({ data: below(0.5, 6) });
    const said = async () =>
      (await publicPage(await issue())).body.replace(/<[^>]*>/g, ' ').replace(/\s+/g, ' ');
    expect(await said()).toContain('Nitrate &lt; 0.5 mg/L');
    await db.reading.createMany({ data: [below(0.5, 5), below(0.9, 4, false)] });
    expect(await said()).toContain('Nitrate &lt; 0.5, &lt; 0.5 to 0.9 mg/L');
    const voided = { voidedAt: benchNow, voidReason: 'of another system' };
    await db.reading.updateMany({ where: { quantityCode: 'nitrate' }, data: voided });
  });

  test('stays as it was issued when the lot is changed later', async () => {
    const id = await issue();
    const before = await publicPage(id);
    await bench.service.db.lot.update({ where: { id: lot.id }, data: { sizeMm: 99 } });
    expect((await publicPage(id)).body).toBe(before.body);
  });

  test('says beside its record what was found since of a kit that its water was tested with', async () => {
    const { db } = bench.service;
    const { systemId } = await db.reading.findFirstOrThrow();
    const { id: methodId } = await db.method.findFirstOrThrow({
      where: { quantityCode: 'calcium', name: 'photometer' },
    });
    const kit = await db.kit.create({ data: { methodId, label: 'Ca 2', openedAt: dayBefore(20) } });
    const values = { value: 450, uncertainty: 5, enteredText: '450', enteredUnit: 'mg/L' };
    await db.reading.create({
      data: {
        ...{ systemId, quantityCode: 'calcium', at: dayBefore(2), ...values },
        ...{ kitId: kit.id, methodId, trust: 'plain' },
      },
    });
    const id = await issue();
    const record = async () => (await db.tag.findUniqueOrThrow({ where: { id } })).record;
    const signed = await record();
    expect((await publicPage(id)).body).not.toContain('after this was issued');
    // A standard of 400 mg/L read 432 on six days after the issue: 8 % high, so 432 stood for 400, 7 % less.
    bench.at(new Date(benchNow.getTime() + 7 * 86_400_000));
    for (const day of [1, 2, 3, 4, 5, 6])
      for (const value of [431, 433])
        await db.checkReading.create({
          data: { kitId: kit.id, at: dayBefore(-day), standardValue: 400, value },
        });
    const { body } = await publicPage(id);
    expect(body).toContain(
      'Found on 30 Nov 2026, after this was issued: a kit that its calcium was tested with reads 8 % high. What it read was truly about 7 % lower.',
    );
    expect(body).toContain('unchanged since');
    expect(body).not.toContain('Ca 2');
    expect((await manager.get(`/tags/${id}`)).body).toContain('Valid, as it was signed, but:');
    expect(await record()).toBe(signed);
    bench.at(benchNow);
    await db.reading.updateMany({
      where: { kitId: kit.id },
      data: { voidedAt: benchNow, voidReason: 'only for this test' },
    });
  });

  test('altered in the database shows as altered', async () => {
    const id = await issue();
    expect((await publicPage(id)).body).toContain('unchanged since');
    const { pool } = bench.service;
    const alter = `UPDATE tag SET record = replace(record, '"par":90', '"par":60') WHERE id = $1`;
    await expect(pool.query(alter, [id])).rejects.toThrow('frozen');
    await pool.query('ALTER TABLE tag DISABLE TRIGGER tag_frozen');
    await pool.query(alter, [id]);
    await pool.query('ALTER TABLE tag ENABLE TRIGGER tag_frozen');
    expect((await publicPage(id)).body).toContain('altered after it was issued');
    expect((await publicPage(id)).body).not.toContain('unchanged since');
    expect((await hand.get(`/tags/${id}`)).body).toContain('altered in the database');
    await manager.post(`/tags/${id}/withdrawal`, { reason: 'altered' });
    expect((await publicPage(id)).body).toMatch(/was withdrawn.*altered after it was issued/s);
  });

  test('that is withdrawn says so, and is withdrawn by a manager only', async () => {
    const id = await issue();
    expect((await hand.post(`/tags/${id}/withdrawal`, { reason: 'wrong lot' })).status).toBe(403);
    expect((await manager.post(`/tags/${id}/withdrawal`, { reason: 'wrong lot' })).status).toBe(303);
    expect((await publicPage(id)).body).toContain('This tag was withdrawn');
  });

  test('is refused for more pieces than there are, with everything as typed', async () => {
    const answer = await manager.post('/tags', { lot: lot.code, pieces: 50, reason: '' });
    expect(answer.status).toBe(422);
    expect(answer.body).toContain('There are only');
    expect(answer.body).toContain('value="50"');
  });

  test('counts sold pieces off the ledger, once however often the form is sent', async () => {
    const { db } = bench.service;
    const before = (await db.lot.findUniqueOrThrow({ where: { id: lot.id } })).pieces;
    const form = { sold: 'yes', _key: '0199a000-0000-7000-8000-000000000001' };
    const ids = [await issue(form), await issue(form)];
    expect(ids[0]).toBe(ids[1]);
    expect((await db.lot.findUniqueOrThrow({ where: { id: lot.id } })).pieces).toBe(before - 1);
  });

  test('needs a reason while an alert is open on the lot, and tells the seller which', async () => {
    const { db } = bench.service;
    const system = await db.system.findFirstOrThrow();
    const alert = await db.alert.create({
      data: {
        rule: 'too-much-light',
        subjectType: 'lot',
        subjectId: lot.id,
        systemId: system.id,
        severity: 'today',
        title: 'It stands too bright.',
        finding: {},
        worst: 1,
        openedAt: benchNow,
        evaluatedAt: benchNow,
      },
    });
    const refused = await manager.post('/tags', { lot: lot.code, pieces: 1, reason: '' });
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('It stands too bright.');
    await issue({ reason: 'The buyer keeps it dim.' });
    await db.alert.update({ where: { id: alert.id }, data: { clearedAt: benchNow } });
  });

  test('at an address that cannot be guessed; any other is not there', async () => {
    expect((await browse(bench.app).get('/t/AAAAAAAAAAAAAAAAAAAAAA')).status).toBe(404);
    expect((await browse(bench.app).get('/t/1')).status).toBe(404);
  });
});

describe('the plan for the buyer', () => {
  test('leads from what it is used to, to the buyer s light, in bounded steps', async () => {
    const page = await publicPage(await issue(), '?top=200&hours=10');
    expect(page.body).toMatch(/Days 1 to \d+/);
    expect(page.body).toMatch(/From day \d+/);
  });

  test('says plainly when a place is too bright for the kind', async () => {
    expect((await publicPage(await issue(), '?top=900')).body).toContain('too bright for this kind');
  });

  test('leaves out what cannot be, and says so', async () => {
    const page = await publicPage(await issue(), '?top=abc&hours=-4&alkalinity=150');
    expect(page.status).toBe(200);
    for (const left of ['near the top (abc)', 'hours of full light (-4)', 'alkalinity (150)'])
      expect(page.body).toContain(`${left} cannot be right`);
  });

  test('says nothing of a tank of which nothing was entered', async () => {
    const id = await issue();
    expect((await publicPage(id, '?top=140')).body).toContain('For your tank');
    expect((await publicPage(id, '?top=&alkalinity=')).body).not.toContain('For your tank');
  });
});

describe('the page of a tag', () => {
  const red = () =>
    sharp({ create: { width: 40, height: 30, channels: 3, background: '#a33' } })
      .jpeg()
      .toBuffer();
  const photograph = async (takenAt: Date) => {
    const image = await makePhoto(await red());
    const id = randomUUID();
    const photo = { id, lotId: lot.id, roundEntryId: null, takenAt, note: '', ...image };
    await bench.change((work) => addPhoto(work, photo));
    return id;
  };
  const picture = async (id: string) => {
    const { token } = await bench.service.db.tag.findUniqueOrThrow({ where: { id } });
    return bench.app.inject(`/t/${token}/picture`);
  };

  test('shows the drawing where no photo was taken, and says so', async () => {
    const id = await issue();
    expect((await publicPage(id)).body).toContain('Drawing: no photo is shown');
    const { headers, rawPayload } = await picture(id);
    expect(headers['content-type']).toBe('image/png');
    const { channels } = await sharp(rawPayload).stats();
    expect(channels[0]?.min).toBeLessThan(100);
  });

  test('shows the lot’s newest photo of before it was issued, with its day, to somebody signed out', async () => {
    const id = await photograph(dayBefore(9));
    const tag = await issue();
    const { body } = await publicPage(tag);
    expect(body).toMatch(/Its lot on [\s\S]*15 Nov 2026/);
    const sent = await picture(tag);
    expect(sent.headers['set-cookie']).toBeUndefined();
    expect(sent.headers['content-type']).toBe('image/jpeg');
    await bench.change((work) => voidPhoto(work, id, 'another lot'));
    expect((await publicPage(tag)).body).not.toContain('Its lot on');
  });

  test('shows no photo where the seller hides it, and keeps what it showed whatever is photographed later', async () => {
    const id = await photograph(dayBefore(8));
    const [hidden, shown] = [await issue({ hidePhoto: 'on' }), await issue()];
    expect((await publicPage(hidden)).body).toContain('Drawing: no photo is shown');
    expect((await publicPage(shown)).body).toMatch(/Its lot on [\s\S]*16 Nov 2026/);
    await photograph(dayBefore(7));
    expect((await publicPage(shown)).body).toMatch(/Its lot on [\s\S]*16 Nov 2026/);
    await bench.change((work) => voidPhoto(work, id, 'blurred'));
    // No other photo takes the place of the one that was chosen.
    expect((await publicPage(shown)).body).toContain('Drawing: no photo is shown');
  });

  test('is headed by what it was identified as, not by a trade name of another kind', async () => {
    expect((await publicPage(await issue())).body).toContain('<h1>Goniastrea cf. edwardsi</h1>');
  });

  test('is read in under 80 words up to its first answer', async () => {
    const { body } = await publicPage(await issue());
    const main = /<main[^>]*>([\s\S]*?)Show the days/.exec(body)?.[1] ?? '';
    const seen = main.replace(/<svg[\s\S]*?<\/svg>/g, ' ').replace(/<[^>]+>/g, ' ');
    const words = seen.split(/\s+/).filter((word) => /\w/.test(word));
    expect(words.length).toBeGreaterThan(20);
    expect(words.length).toBeLessThan(80);
  });

  test('computes the days from the slider alone, as a form without a script', async () => {
    const { body } = await publicPage(await issue(), '?light=140&from=2026-12-01');
    expect(body).toContain('Tue 1 Dec');
    expect(body).toMatch(/<li class="light-\d step">/);
    expect(body.match(/<li class="light-/g)?.length).toBeGreaterThanOrEqual(7);
    expect(body).not.toMatch(/<script(?! type="application\/ld\+json")/);
  });

  test('has a preview by the Open Graph protocol and a sheet with all laid open', async () => {
    const id = await issue();
    const { body } = await publicPage(id, '');
    // Basic properties of every page: ogp.me.
    for (const property of ['og:title', 'og:type', 'og:description'])
      expect(body).toContain(`property="${property}"`);
    const sheet = await publicPage(id, '/sheet?light=140');
    expect(sheet.body).not.toContain('<form');
    expect(sheet.body).not.toMatch(/<details class="fold">/);
    expect(sheet.body).toContain('From day');
    expect(sheet.body).toContain('Your tank’s light');
    expect((await publicPage(id, '/sheet')).body).not.toContain('Your tank’s light');
  });
});

describe('a tag says only what is known:', () => {
  const record = async (id: string) =>
    JSON.parse((await bench.service.db.tag.findUniqueOrThrow({ where: { id } })).record);
  const page = async (id: string) => (await publicPage(id)).body.replace(/\s+/g, ' ');

  test('from when to when the water was tested, and how often', async () => {
    const id = await issue();
    expect(await record(id)).toMatchObject({
      format: 'evenwater-care-record/4',
      water: [{ quantity: 'alkalinity', tests: 3, from: '2026-11-21', to: '2026-11-23' }],
    });
    expect(await page(id)).toContain('3 tests, 21 Nov 2026 to 23 Nov 2026');
  });

  test('the last test, and one after it that still waits for a repeat, before anything else', async () => {
    const { db } = bench.service;
    const known = await record(await issue());
    expect(known.water[0]).toMatchObject({ latest: 8.1 });
    expect(known.water[0]).not.toHaveProperty('waiting');
    const { systemId, id: _, ...like } = await db.reading.findFirstOrThrow({ orderBy: { at: 'asc' } });
    const later = { ...like, systemId, value: 4.2, at: dayBefore(0.2), trust: 'unconfirmed' as const };
    const { id: added } = await db.reading.create({ data: later });
    const waiting = await issue();
    // 4.2 meq/L is 11.8 dKH (1 meq/L = 2.804 dKH).
    expect((await record(waiting)).water[0]).toMatchObject({ latest: 8.1, waiting: 11.8 });
    expect(await page(waiting)).toContain('A later test of alkalinity read 11.8 dKH and still waited');
    await db.reading.update({ where: { id: added }, data: { trust: 'confirmed' } });
    const changed = await issue();
    expect((await record(changed)).water[0]).toMatchObject({ latest: 11.8, median: 8.6 });
    const seen = await page(changed);
    expect(seen).toContain('11.8 dKH at the last test');
    expect(seen.indexOf('Its water changed')).toBeLessThan(seen.indexOf('Your tank’s light'));
    expect((await manager.get(`/tags/new?lot=${lot.code}`)).body).toContain('Its water changed before');
    await db.reading.update({
      where: { id: added },
      data: { voidedAt: benchNow, voidReason: 'of another system' },
    });
  });

  test('that its light is estimated where its own place was not measured, with how far it is sure', async () => {
    const { db } = bench.service;
    await db.slotLight.updateMany({ data: { measured: false, error: 15 } });
    const id = await issue();
    await db.slotLight.updateMany({ data: { measured: true, error: 3 } });
    expect((await record(id)).light).toMatchObject({ par: 90, error: 15, measuredHere: false });
    const seen = await page(id);
    expect(seen).toContain('90 ± 15 PAR, estimated');
    expect(seen).toContain('its own place was not measured');
    expect(seen).toContain('90 ± 15, 3.2 mol a day');
    expect((await manager.get(`/tags/${id}`)).body).toContain('PAR 90 ± 15, estimated');
  });

  test('nothing of dosing where none was recorded, what was dosed where it was, and that nothing is where the farm says so', async () => {
    const { db } = bench.service;
    const system = await db.system.findFirstOrThrow();
    const none = await issue();
    expect((await record(none)).dosing).toBeNull();
    expect(await page(none)).not.toContain('Dosed');
    await db.system.update({
      where: { id: system.id },
      data: { undosedSince: new Date('2026-05-04T10:00:00Z') },
    });
    expect(await page(await issue())).toMatch(/Dosed.*nothing.*since 4 May 2026, as the farm says/);
    await db.dose.create({
      data: { systemId: system.id, at: dayBefore(2), substance: 'Sodium carbonate', amount: 12, unit: 'g' },
    });
    const dosed = await page(await issue());
    expect(dosed).toContain('Sodium carbonate 1 time');
    expect(dosed).not.toContain('as the farm says');
    await db.dose.deleteMany();
    await db.system.update({ where: { id: system.id }, data: { undosedSince: null } });
  });

  test('no daily light and no steps where nobody said which lamps light it and how long', async () => {
    const { db } = bench.service;
    const rack = await db.rack.findFirstOrThrow();
    await db.rack.update({ where: { id: rack.id }, data: { lampId: null } });
    const id = await issue();
    const { body } = await publicPage(id, '?middle=120');
    await db.rack.update({ where: { id: rack.id }, data: { lampId: rack.lampId } });
    expect(body).not.toMatch(/mol a day [^i]/);
    expect(body.includes('how long it is lit a day is not known') || body.includes('not measured')).toBe(
      true,
    );
    expect(body).toContain('What light it is used to is not known');
  });

  test('nothing of what the farm notes for itself: kits and their alerts by name, what nobody has told apart', async () => {
    const id = await issue();
    const said = `${await page(id)} ${JSON.stringify(await record(id))}`;
    expect(said).not.toMatch(/nobody has|told apart|\bkit\b|alert|unconfirmed|low confidence/i);
  });
});

test('the farm’s own mark is on labels, signs and tag sheets, drawn again from what was sent', async () => {
  const picture = (width: number, height: number) =>
    sharp({ create: { width, height, channels: 3, background: '#124' } })
      .extend({ top: 40, bottom: 40, left: 40, right: 40, background: '#fff' })
      .png()
      .toBuffer();
  const send = async (content: Buffer) =>
    manager.upload('/tags/mark', {}, { field: 'photo', name: 'mark.png', content });
  expect((await send(Buffer.from('no picture'))).status).toBe(422);
  expect((await send(await picture(900, 30))).body).toContain('too long and thin');
  for (const [width, height] of [
    [1, 1],
    [5000, 1],
    [2, 3000],
  ] as const) {
    const bare = sharp({ create: { width, height, channels: 3, background: '#124' } });
    const { status, body } = await send(await bare.png().toBuffer());
    expect([width, status]).toEqual([width, 422]);
    expect(body).toContain('too small for a label');
  }
  expect((await send(await picture(900, 600))).status).toBe(303);
  expect(await bench.service.db.siteMark.findMany()).toMatchObject([{ width: 480, height: 320 }]);
  const shown = 'src="data:image/png;base64,';
  expect((await manager.get('/tags/mark')).body).toContain(shown);
  expect((await manager.get('/tags/mark/label.pdf')).body).toContain('/Subtype /Image');
  const rack = await bench.service.db.rack.findFirstOrThrow();
  const sign = `/labels.pdf?what=racks&rack=${rack.id}&rows=8&columns=3&first=1&copies=1&hereAlone=yes`;
  expect((await manager.get(sign)).body).toContain('/Subtype /Image');
  const tag = await bench.service.db.tag.findUniqueOrThrow({ where: { id: await issue() } });
  expect((await manager.get(`/tags/${tag.id}`)).body).toContain(shown);
  expect((await browse(bench.app).get(`/t/${tag.token}/sheet`)).body).toContain(shown);
  expect((await browse(bench.app).get(`/t/${tag.token}`)).body).not.toContain(shown);
  expect((await manager.post('/tags/mark/removal', {})).status).toBe(303);
  expect((await manager.get('/tags/mark')).body).not.toContain(shown);
  const kinds = await bench.service.db.journalLine.findMany({
    where: { kind: { startsWith: 'site.mark' } },
    orderBy: { id: 'asc' },
  });
  expect(kinds.map(({ kind }) => kind)).toEqual(['site.mark_changed', 'site.mark_removed']);
});
