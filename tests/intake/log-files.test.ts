import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

/** A file pasted by a manager: where it then stands. */
async function paste(manager: Visitor, kind: string, pasted: string): Promise<string> {
  const form = new FormData();
  form.set('kind', kind);
  form.set('pasted', pasted);
  const answer = await manager.send('/water/log-files', form, { accept: 'text/html' });
  expect(answer.status, answer.body).toBe(303);
  return answer.location ?? '';
}

const csv = (heads: string, ...rows: string[]) => `${[heads, ...rows].join('\n')}\n`;
const day = (number: number) => `2026-10-${String(number).padStart(2, '0')}`;

describe('doses from a file', () => {
  let bench: Bench;
  let manager: Visitor;
  let system: { id: string; name: string; volumeL: number };
  const doses = () =>
    bench.service.db.dose.findMany({
      where: { voidedAt: null },
      orderBy: [{ at: 'asc' }, { substance: 'asc' }],
    });

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    system = await bench.service.db.system.findUniqueOrThrow({
      where: { id: await makeSystem(bench, 'Main') },
    });
    manager = await bench.as('manager', 'Ines Varga');
  });
  afterAll(() => bench.close());

  const usual = Array.from({ length: 12 }, (_, i) => `Main,${day(i + 1)} 08:00,"soda, 1 meq/mL",300,mL,Rui,`);
  const sheet = csv(
    'System,When,Additive,Amount,Unit,Who,Note',
    ...usual,
    'Main,2026-10-13 08:00,"soda, 1 meq/mL",3000,mL,Rui,a slip',
    'Main,2026-10-14 08:00,"soda, 1 meq/mL",much,mL,Rui,',
    'Main,2026-13-14 08:00,"soda, 1 meq/mL",300,mL,Rui,',
    'Main,2030-01-01 08:00,"soda, 1 meq/mL",300,mL,Rui,',
  );
  let at: string;

  test('say a quantity as people write it within a sentence', async () => {
    const own = csv(
      'System,When,Additive,Amount,Unit,Raises,Rise',
      'Main,2026-09-01 08:00,buffer,5,g,pH,0.1',
    );
    const page = (await manager.get(await paste(manager, 'doses', own))).body;
    expect(page).toContain('raises pH by');
  });

  test('are shown first, with each fault by row and column', async () => {
    at = await paste(manager, 'doses', sheet);
    const { body } = await manager.get(at);
    expect(body).toContain('12 doses would be taken');
    expect(body).toContain('Nothing is logged yet');
    const refused = (await manager.get(`${at}?show=refused`)).body;
    expect(refused).toMatch(/>15<[\s\S]*<b>Amount<\/b>: “much” is not an amount/);
    expect(refused).toMatch(/>16<[\s\S]*<b>When<\/b>: “2026-13-14 08:00” is not a day of the calendar/);
    expect(refused).toMatch(/>17<[\s\S]*is in the future/);
    expect(await doses()).toHaveLength(0);
  });

  test('a dose of ten times the usual is asked about, shown with its row, and not silently taken', async () => {
    const { body } = await manager.get(at);
    expect(body).toContain('Unusual doses of soda, 1 meq/mL in Main: were they so?');
    expect(body).toContain('row 14: 3,000 mL. 3,000 mL is 10 times the usual 300 mL.');
    expect((await manager.post(`${at}/acceptance`, {})).status).toBe(409);
    expect(await doses()).toHaveLength(0);
  });

  test('are taken in one go once that is answered, with who did them and what they raise', async () => {
    const name = /name="(unusual-[^"]+)"/.exec((await manager.get(at)).body)?.[1] ?? '';
    await manager.post(`${at}/reading`, { [name]: 'take' });
    expect((await manager.post(`${at}/acceptance`, {})).status).toBe(303);
    const taken = await doses();
    expect(taken).toHaveLength(13);
    // 300 mL of 1 meq/mL are 300 meq: by mass balance 300 meq / volume of the system.
    expect(taken[0]).toMatchObject({
      amount: 300,
      unit: 'mL',
      quantityCode: 'alkalinity',
      doneBy: 'Rui',
      concerns: [],
    });
    expect(taken[0]?.effect).toBeCloseTo(300 / system.volumeL, 9);
    expect(taken[12]?.concerns.join(' ')).toContain('10 times the usual');
    expect(taken[12]?.reason).not.toBe('');
    expect((await manager.get(`/water/systems/${system.id}/doses`)).body).toContain('Rui');
    const refused = (await manager.get(`${at}/refused.csv`)).body;
    expect(refused.split('\r\n').filter(Boolean)).toHaveLength(4);
  });

  test('brought again they change nothing', async () => {
    const again = await paste(manager, 'doses', sheet);
    expect((await manager.get(again)).body).toContain('13 rows are here already');
    expect((await manager.post(`${again}/acceptance`, {})).status).toBe(409);
    expect(await doses()).toHaveLength(13);
  });

  test('go out as a file that comes back in as it went out', async () => {
    const before = await doses();
    const out = await manager.get(`/water/systems/${system.id}/doses.csv`);
    const again = await paste(manager, 'doses', out.body);
    expect((await manager.get(again)).body).toContain('13 rows are here already');
    await manager.post(`${at}/withdrawal`, { reason: 'brought by mistake' });
    expect(await doses()).toHaveLength(0);
    const back = await paste(manager, 'doses', out.body);
    expect((await manager.post(`${back}/acceptance`, {})).status).toBe(303);
    const kept = ({
      at: when,
      substance,
      amount,
      unit,
      quantityCode,
      effect,
      doneBy,
    }: (typeof before)[number]) => ({
      ...{ when, substance, amount, unit, quantityCode, effect, doneBy },
    });
    expect((await doses()).map(kept)).toEqual(before.map(kept));
  });

  test('of a unit that nobody wrote are asked about', async () => {
    const file = await paste(manager, 'doses', csv('day,what,amount', '2026-09-01,limewater,1.350'));
    const { body } = await manager.get(file);
    expect(body).toContain('In what are amounts like “1.350” of limewater measured?');
    expect(body).toContain('“1.350”: 1350 or 1.35?');
  });

  test('two of the same time are asked about: each done, or a row copied twice', async () => {
    const row = '2026-09-02 08:00,kelp extract,5,drops';
    const file = await paste(manager, 'doses', csv('when,what,amount,unit', row, row));
    expect((await manager.get(file)).body).toContain('row 3 as row 2');
    await manager.post(`${file}/reading`, { repeat: 'once', 'raises-kelp~20extract': 'unknown' });
    expect((await manager.post(`${file}/acceptance`, {})).status).toBe(303);
    expect((await doses()).filter(({ substance }) => substance === 'kelp extract')).toHaveLength(1);
  });

  test('a mixed list is brought once a kind: a water change is no dose, and a dose no water change', async () => {
    const list = csv(
      'Tag;What;Amount;Unit',
      'Mo 07.09.2026;Wasserwechsel;ca. 120;l',
      'Di, 08.09.2026;limewater;5;L',
      '13.09.2026 19:00;Fed frozen;2;cubes',
      '14.09.2026;W.C.;0,1;m3',
    );
    for (const [kind, others] of [
      ['doses', ['Wasserwechsel', 'Fed frozen', 'W.C.']],
      ['water_changes', ['limewater', 'Fed frozen']],
      ['feedings', ['Wasserwechsel', 'limewater', 'W.C.']],
    ] as const) {
      const file = await paste(manager, kind, list);
      const { body } = await manager.get(file);
      expect(body).toContain('Some rows read like something else than');
      for (const other of others) expect(body).toContain(`“${other}”`);
      await manager.post(`${file}/reading`, {
        'other-kind': 'leave',
        about: 'take',
        'raises-limewater': 'unknown',
      });
      expect((await manager.post(`${file}/acceptance`, {})).status, kind).toBe(303);
    }
    const since = { at: { gte: new Date('2026-09-03'), lt: new Date('2026-10-01') } };
    const { dose, waterChange, feeding } = bench.service.db;
    expect(await dose.findMany({ where: since })).toMatchObject([{ substance: 'limewater', amount: 5 }]);
    const changed = await waterChange.findMany({ where: since, orderBy: { at: 'asc' } });
    expect(changed.map(({ volumeL }) => volumeL)).toEqual([120, 100]);
    expect(await feeding.findMany({ where: since })).toMatchObject([{ food: 'Fed frozen, 2 cubes' }]);
  });

  test('more than the daily cap is asked about, though each dose is the usual one', async () => {
    const rows = Array.from({ length: 8 }, (_, i) => `2026-08-0${i + 1} 08:00,sodium bicarbonate,60,g`);
    const many = Array.from(
      { length: 9 },
      (_, i) => `2026-08-09 ${String(i + 9).padStart(2, '0')}:00,sodium bicarbonate,60,g`,
    );
    const file = await paste(manager, 'doses', csv('when,what,amount,unit', ...rows, ...many));
    expect((await manager.get(file)).body).toMatch(
      /row 1\d: 60 g\. With the other doses of the day it moves alkalinity/,
    );
  });
});

describe('water changes, feedings and services from files', () => {
  let bench: Bench;
  let manager: Visitor;
  let system: { id: string; name: string; volumeL: number };
  const take = async (kind: string, pasted: string, answers: Record<string, string> = {}) => {
    const at = await paste(manager, kind, pasted);
    if (Object.keys(answers).length > 0) await manager.post(`${at}/reading`, answers);
    expect((await manager.post(`${at}/acceptance`, {})).status, (await manager.get(at)).body).toBe(303);
    return at;
  };

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    system = await bench.service.db.system.findUniqueOrThrow({
      where: { id: await makeSystem(bench, 'Main') },
    });
    manager = await bench.as('manager', 'Ines Varga');
  });
  afterAll(() => bench.close());

  test('doses that name nobody are told as of nobody named, not as done by whoever brought the file in', async () => {
    const at = await take('doses', csv('system,date,what,amount,unit', 'Main,2026-11-18,alk part,120,mL'), {
      'raises-alk~20part': 'unknown',
    });
    expect(at).toContain('/water/log-files/');
    const page = (await manager.get(`/water/systems/${system.id}/doses`)).body;
    expect(page).toMatch(/120 mL alk part[\s\S]*?nobody named/);
    await manager.post(`${at}/withdrawal`, { reason: 'only for this test' });
  });

  test('a water change in litres, per cent and gallons, by usual, purified and other water', async () => {
    const sheet = csv(
      'date,amount,unit,new water,by',
      '2026-10-01,10,%,,Rui',
      '2026-10-08,100,L,purified,Rui',
      '2026-10-15,20,US gal,30 PSU,Ines',
    );
    await take('water_changes', sheet);
    const changes = await bench.service.db.waterChange.findMany({ orderBy: { at: 'asc' } });
    expect(changes.map(({ volumeL }) => volumeL)).toEqual([
      system.volumeL / 10,
      100,
      // NIST Handbook 44, Appendix C: 1 US gallon is 3.785411784 L.
      expect.closeTo(20 * 3.785411784, 9),
    ]);
    expect(changes.map(({ makeUp }) => (makeUp as { salinity?: number } | null)?.salinity)).toEqual([
      undefined,
      0,
      30,
    ]);
    const out = await manager.get(`/water/systems/${system.id}/water-changes.csv`);
    const again = await paste(manager, 'water_changes', out.body);
    expect((await manager.get(again)).body).toContain('3 rows are here already');
  });

  test('two files with the same rows that are taken at once are taken once', async () => {
    const rows = csv('date,amount,unit', '2026-08-01,10,L', '2026-08-08,10,L', '2026-08-15,10,L');
    const files = [await paste(manager, 'water_changes', rows), await paste(manager, 'water_changes', rows)];
    const answers = await Promise.all(files.map((at) => manager.post(`${at}/acceptance`, {})));
    expect(answers.map(({ status }) => status).sort()).toEqual([303, 409]);
    const inAugust = { gte: new Date('2026-08-01'), lt: new Date('2026-09-01') };
    expect(await bench.service.db.waterChange.count({ where: { at: inAugust } })).toBe(3);
    const late = files[answers.findIndex(({ status }) => status === 409)] ?? '';
    expect((await manager.get(late)).body).toContain('3 rows are here already');
  });

  test('fresh alone may be newly mixed salt water, so it is not read as purified', async () => {
    const at = await paste(
      manager,
      'water_changes',
      csv('date,amount,unit,new water', '2026-09-01,10,L,fresh', '2026-09-02,10,L,fresh water'),
    );
    expect((await manager.get(`${at}?show=refused`)).body).toContain('“fresh” is not a water we know');
    expect((await manager.get(at)).body).toContain('1 water change would be taken');
  });

  test('a row counts where the column of what does not count says no', async () => {
    const at = await paste(
      manager,
      'water_changes',
      csv('date,amount,unit,deleted', '2026-09-01,10,L,no', '2026-09-02,11,L,FALSE', '2026-09-03,12,L,yes'),
    );
    expect((await manager.get(at)).body).toContain('2 water changes would be taken');
    expect((await manager.get(`${at}?show=nothing`)).body).toContain('marked as not counting');
  });

  test('more than a system holds is refused by row; most of it is asked about', async () => {
    const at = await paste(
      manager,
      'water_changes',
      csv('date,amount,unit', `2026-10-02,${system.volumeL * 2},L`, `2026-10-03,${system.volumeL * 0.8},L`),
    );
    expect((await manager.get(`${at}?show=refused`)).body).toContain('More than the');
    expect((await manager.get(at)).body).toContain('Large water changes in Main');
  });

  test('a feeding of a file says how long the pumps were off, and switches nothing off', async () => {
    await take(
      'feedings',
      csv(
        'when,food,amount,unit,pumps off,response',
        '2026-10-01 18:00,mysid,12,g,15,eager',
        '2026-10-02 18:00,brine shrimp,3,cubes,,',
      ),
    );
    const fed = await bench.service.db.feeding.findMany({ orderBy: { at: 'asc' } });
    expect(fed).toMatchObject([
      { food: 'mysid', amountG: 12, pumpsOffMin: 15, response: 'eager' },
      { food: 'brine shrimp, 3 cubes', amountG: null },
    ]);
    expect(await bench.service.db.switchedOff.count()).toBe(0);
    expect((await manager.get(`/water/systems/${system.id}/feedings`)).body).not.toContain(
      'class="pumps-off"',
    );
    const out = await manager.get(`/water/systems/${system.id}/feedings.csv`);
    const again = await paste(manager, 'feedings', out.body);
    expect((await manager.get(again)).body).toContain('2 rows are here already');
  });

  test('a service of a device counts for when it is due again, until its file is taken back', async () => {
    const device = await bench.service.db.equipment.create({
      data: { systemId: system.id, kind: 'skimmer', name: 'Skimmer left', serviceEveryDays: 30 },
    });
    const at = await take('upkeep', csv('device,day,work,who', 'skimmer left,2026-11-20,cleaned,Rui'));
    const due = async () => (await manager.get(`/farm/equipment/${device.id}`)).body;
    expect(await due()).toMatch(/20 Nov/);
    await manager.post(`${at}/withdrawal`, { reason: 'the wrong device' });
    expect(await bench.service.db.upkeep.count()).toBe(0);
  });

  test('a hand brings none', async () => {
    const hand = await bench.as('hand', 'Rui Sato');
    expect((await hand.get('/water/log-files')).status).toBe(403);
  });
});
