import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';

describe('a file of doses for days that the plan of a doser has booked', () => {
  let bench: Bench;
  let manager: Visitor;
  let systemId: string;
  const standing = () => bench.service.db.dose.findMany({ where: { systemId, voidedAt: null } });

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    bench.at('2026-11-24T08:00:00Z');
    systemId = await makeSystem(bench, 'Main');
    manager = await bench.as('manager', 'Ines Varga');
    const data = { systemId, kind: 'doser' as const, name: 'Soda doser' };
    const doser = await bench.service.db.equipment.create({
      data: { ...data, strengthCode: 'alkalinity', strength: 1000 },
    });
    const plan = { substance: 'Soda mix', perDay: '60', unit: 'mL', at: '2026-11-22T00:00' };
    expect((await manager.post(`/water/dosers/${doser.id}/plan`, plan)).status).toBe(303);
    expect(await standing()).toHaveLength(2);
  });
  afterAll(() => bench.close());

  const bring = async () => {
    const form = new FormData();
    form.set('kind', 'doses');
    const rows = ['2026-11-21', '2026-11-22', '2026-11-23'].map(
      (day) => `Main,${day} 12:00,soda MIX,60,mL,alkalinity,0.17`,
    );
    form.set('pasted', ['System,When,Additive,Amount,Unit,Raises,Rise', ...rows, ''].join('\n'));
    return (await manager.send('/water/log-files', form, { accept: 'text/html' })).location ?? '';
  };
  const answer = async (at: string, what: string) => {
    const name = /name="(doser-[^"]+)"/.exec((await manager.get(at)).body)?.[1] ?? '';
    await manager.post(`${at}/reading`, { [name]: what });
    return (await manager.post(`${at}/acceptance`, {})).status;
  };

  test('is asked about, and taken without them where they are the same', async () => {
    const at = await bring();
    const { body } = await manager.get(at);
    expect(body).toContain('Main: these days already hold 60 mL a day by the doser “Soda doser”');
    expect((await manager.post(`${at}/acceptance`, {})).status).toBe(409);
    expect(await answer(at, 'same')).toBe(303);
    const doses = await standing();
    expect(doses).toHaveLength(3);
    expect(doses.filter(({ doserId }) => doserId === null).map(({ at: when }) => when.toISOString())).toEqual(
      ['2026-11-21T12:00:00.000Z'],
    );
  });

  test('counts beside them where both went in', async () => {
    expect(await answer(await bring(), 'both')).toBe(303);
    expect(await standing()).toHaveLength(5);
  });
});
