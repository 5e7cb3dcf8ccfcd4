import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Bench, startBench, type Visitor } from '../support/service.ts';
import { makeSystem } from '../water/farm.ts';
import { bring } from './files.ts';

let bench: Bench;
let manager: Visitor;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  await makeSystem(bench);
  manager = await bench.as('manager');
});
afterAll(() => bench.close());

async function brought(content: string): Promise<string> {
  const { status, location, body } = await bring(manager, 'notebook.csv', content);
  expect(status, body).toBe(303);
  return location ?? '';
}

/** What a page says: only its words. */
const words = (html: string) =>
  (/<main[^>]*>([\s\S]*)<\/main>/.exec(html)?.[1] ?? html)
    .replace(/<option[\s\S]*?<\/option>|<[^>]+>/g, ' ')
    .replace(/\s+/g, ' ');
const preview = async (content: string) => words((await manager.get(await brought(content))).body);
const kept = (code: string) =>
  bench.service.db.reading.findMany({ where: { quantityCode: code }, orderBy: { at: 'asc' } });

describe('the order of day and month', () => {
  test.each([
    ['dates with the year in front', ['2026-11-01', '2026-11-08', '99/99/2026']],
    ['a day beyond 12', ['25/10/2026', '01/11/2026', '99/99/2026']],
    ['a day beyond 12, and a number that no calendar has', ['25/10/2026', '01/11/2026', '11/99/2026']],
    ['a day beyond 12, and a day that a month does not have', ['25/10/2026', '01/11/2026', '02/30/2026']],
  ])('is not asked for one bad date beside %s', async (_, dates) => {
    const body = await preview(`date,Ca\n${dates.map((date) => `${date},410`).join('\n')}\n`);
    expect(body).not.toContain('day first or month first?');
    expect(body).toContain('2 readings would be taken');
    expect(body).toContain('1 is refused and handed back as a file');
  });

  test('is asked where good dates leave it open', async () => {
    expect(await preview('date,Ca\n03/04/2026,410\n05/04/2026,410\n')).toContain('day first or month first?');
  });
});

describe('a mark before three digits', () => {
  test.each([
    ['the same column', 'date,Mg\n2026-10-01,1350.5\n2026-10-02,"1,350"\n', '1,350 mg/L'],
    [
      'the same column, by another decimal mark',
      'date;Mg\n2026-10-01;1350,5\n2026-10-02;1.350\n',
      '1,350 mg/L',
    ],
    ['another column', 'date,KH,Mg\n2026-10-01,8.4,1340\n2026-10-02,8.6,"1,350"\n', '1,350 mg/L'],
    ['a number with both marks', 'date,Mg\n2026-10-01,"1,234.5"\n2026-10-02,"1,350"\n', '1,350 mg/L'],
    [
      'rows that name their quantity',
      'date,parameter,value,unit\n2026-10-01,KH,8.4,dKH\n2026-10-02,Mg,"1,350",mg/L\n',
      '1,350 mg/L',
    ],
  ])('is read as %s shows it', async (_, content, value) => {
    const body = await preview(content);
    expect(body).not.toContain('separates thousands');
    expect(body).toContain('2 readings would be taken'.replace('2', content.includes('KH,Mg') ? '4' : '2'));
    expect(body).toContain(value);
  });

  test('is the decimal mark where the column has it so, and the value that gives is asked about', async () => {
    const body = await preview('date,Mg\n2026-10-01,1350.5\n2026-10-02,1.350\n');
    expect(body).not.toContain('separates thousands');
    expect(body).toContain('“1.350” is 1.35 mg/L');
  });

  test('is asked where the file shows both', async () => {
    const body = await preview('date,Mg,KH\n2026-10-01,"1,350",8.4\n2026-10-02,"1,340","8,3"\n');
    expect(body).toContain('separates thousands');
    expect(body).toContain('“1,350”, “1,340”');
  });
});

describe('a salinity written as a specific gravity', () => {
  const gravities = Array.from({ length: 18 }, (_, i) => ['1,026', '1,025', '1.0264', '1026'][i % 4] ?? '');
  const rows = gravities.map((value, i) => `2026-10-${String(i + 1).padStart(2, '0')};${value};8,4`);
  const content = `date;Salinity;KH\n${rows.join('\n')}\n2026-10-30;35,1;8,4\n`;

  test('is asked about once for its column, with every value that is meant, and none is refused', async () => {
    const body = await preview(content);
    expect(body).toContain('“1,026” of salinity looks like a specific gravity: at which temperatures?');
    expect(body).toContain('“1,026” (5 times), “1,025” (5 times), “1.0264” (4 times), “1026” (4 times)');
    expect(body).toContain('1 question is open');
    expect(body).not.toContain('refused');
  });

  test('is taken at the temperatures that were chosen, beside the values that are salinities', async () => {
    const at = await brought(content);
    await manager.post(`${at}/reading`, { 'gravity-1': 'SG 25/25' });
    expect((await manager.post(`${at}/acceptance`, {})).status).toBe(303);
    const taken = await kept('salinity');
    expect(taken).toHaveLength(19);
    expect(taken.map(({ enteredUnit }) => enteredUnit)).toEqual([...Array(18).fill('SG 25/25'), 'PSU']);
    // Seawater of SG 1.0264 at 25/25: practical salinity 35 (PSS-78 and EOS-80, UNESCO 1983: 1023.34 / 997.05 kg/m3 at 25 degC).
    expect(taken[2]?.value).toBeCloseTo(35, 0);
  });

  test('may be left out', async () => {
    const at = await brought('date,Salinity\n2026-09-01,"1,026"\n2026-09-02,35\n');
    const left = await manager.post(`${at}/reading`, { 'gravity-1': 'leave' });
    expect(left.status).toBe(303);
    expect(words((await manager.get(at)).body)).toContain('1 reading would be taken');
  });
});

describe('values that are not usual', () => {
  const content = 'date,Mg\n2026-10-01,1350.5\n2026-10-02,0.75\n2026-10-03,"2,234.56"\n2026-10-04,260\n';

  test('are each shown, and asked about apart where they are wrong in another way', async () => {
    const at = await brought(content);
    const { body } = await manager.get(at);
    expect(body).toContain('“0.75” is 0.75 mg/L');
    expect(body).toContain('“260” is 260 mg/L');
    expect(body).toContain('“2,234.56” is 2234.56 mg/L');
    const ids = [...body.matchAll(/name="(range-[^"]+)"/g)].map(([, id]) => id ?? '');
    expect(new Set(ids).size).toBe(3);
    const answers = Object.fromEntries(
      [...new Set(ids)].map((id) => [id, id.includes('above') ? 'take' : 'leave']),
    );
    await manager.post(`${at}/reading`, answers);
    expect((await manager.post(`${at}/acceptance`, {})).status).toBe(303);
    expect((await kept('magnesium')).map((reading) => reading.enteredText)).toEqual(['1350.5', '2,234.56']);
  });

  test('that are alike are asked about once, each by name', async () => {
    const body = await preview('date,Mg\n2026-10-05,250\n2026-10-06,260\n2026-10-07,260\n');
    expect(body).toContain('“250” is 250 mg/L, “260” is 260 mg/L (2 times)');
    expect(body).toContain('1 question is open');
  });
});

describe('columns', () => {
  test('that nothing is taken of are named before anything is taken', async () => {
    const body = await preview('date,Ca,Weather,Mood\n2026-10-08,410,dull,fair\n');
    expect(body).toContain('Nothing is taken of the columns “Weather” and “Mood”');
  });

  test('that say who tested are kept with the reading', async () => {
    const at = await brought('date,Ca,Tested by\n2026-10-09,410,Runa\n');
    await manager.post(`${at}/acceptance`, {});
    const [reading] = await kept('calcium');
    expect(reading?.measuredBy).toBe('Runa');
    const page = await manager.get(`/water/systems/${reading?.systemId}?quantity=calcium`);
    expect(words(page.body)).toContain('Runa');
    expect(
      (await manager.get(`/water/systems/${reading?.systemId}/readings.csv?quantity=calcium`)).body,
    ).toContain(',Runa,');
  });

  test.each([
    ['of its own row', 'date,parameter,value,unit,LOD\n2026-10-10,Fe,ND,ug/L,0.5\n'],
    ['of its own quantity', 'date,Fe (ug/L),Fe detection limit (ug/L)\n2026-10-10,ND,0.5\n'],
    [
      'by its code, where the value is blank',
      'date,parameter,value,unit,flag,reporting limit\n2026-10-10,Fe,,ug/L,<,0.5\n',
    ],
  ])('with a detection limit %s say how little would have been seen', async (_, content) => {
    const body = await preview(content);
    expect(body).not.toContain('How little');
    expect(body).toContain('1 reading would be taken');
    expect(body).toContain('Iron &lt; 0.5');
  });
});

describe('the page of a file', () => {
  test('has the button that takes it above its rows', async () => {
    const body = await preview('date,Ca\n2026-10-11,410\n2026-10-12,411\n');
    expect(body.indexOf('Take 2 readings')).toBeGreaterThan(0);
    expect(body.indexOf('Take 2 readings')).toBeLessThan(body.indexOf('How the file is read'));
  });
});

test('a late entry shows when it was entered, on the page and in the file', async () => {
  const [reading] = await kept('calcium');
  const at = `/water/systems/${reading?.systemId}`;
  expect(words((await manager.get(`${at}?quantity=calcium`)).body)).toContain('entered 24 Nov');
  expect((await manager.get(`${at}/readings.csv?quantity=calcium`)).body).toMatch(
    /entered_at[\s\S]*2026-11-24T08:00:00\+00:00/,
  );
});

describe('a notebook as a stranger keeps it', () => {
  test('is read: titles above the heads, heads of another language, clocks with a dot or an h, remarks and means between', async () => {
    const at = await brought(
      [
        'Wasserwerte;;;;;;',
        ';;;;;;',
        'Datum;Uhrzeit;Becken;KH;Ca;PO4;Notiz',
        '13.11.2026;8.45;;8,2;420;n.n.;neuer Test',
        '14. November 2026;18h30;;8,1;;0,06;',
        'Pumpe im Keller defekt;;;;;;',
        '15.11.2026;9 Uhr;;7,9?;418;0,05;',
        'Mittelwert;;;8,1;419;0,05;',
      ].join('\n'),
    );
    const said = words((await manager.get(at)).body);
    expect(said).toContain('7 readings would be taken');
    expect(said).toContain('13 Nov 2026 08:45');
    expect(said).toContain('14 Nov 2026 18:30');
    expect(said).toContain('15 Nov 2026 09:00');
    expect(words((await manager.get(`${at}?show=refused`)).body)).toContain('is marked as doubtful');
    expect(said).toContain('hold no measurement');
    expect(said).not.toContain('Questions about this file');
  });

  test('has its heads found by their shape where no word of them is known', async () => {
    const body = await preview('Aquarium book,,\nTag,Kalk,Wert A\n2026-11-13,420,1\n');
    expect(body).toContain('What each column holds');
    expect(body).toContain('Kalk');
    expect(body).toMatch(/Nothing is taken of the columns “Tag”, “Kalk” and “Wert A”/);
  });
});

describe('a laboratory sheet with its day above the heads', () => {
  const sheet = (...above: string[]) =>
    `${[...above, 'Element,Result,Unit', 'Calcium,418,mg/L', 'Magnesium,1340,mg/L'].join('\n')}\n`;

  test('is of that day, by whatever it is called there', async () => {
    for (const above of [
      'Sample date,13.11.2026',
      'Sample taken: 2026-11-13',
      'Report,,\nProbenahme:,13. November 2026',
    ]) {
      const body = await preview(sheet(above));
      expect(body).toContain('2 readings would be taken');
      expect(body).toContain('All rows are of the day above the heads');
      expect(body).toContain('13 Nov 2026 12:00');
    }
  });

  test('is of the day on which the water was taken, not of the report; where neither is named it is asked once', async () => {
    const said = await preview(sheet('Report of,2026-11-20', 'Sampled,2026-11-13', 'Received,2026-11-16'));
    expect(said).toContain('13 Nov 2026 12:00');
    const at = await brought(sheet('Date,2026-11-13', 'Report,2026-11-20'));
    const asked = words((await manager.get(at)).body);
    expect(asked).toContain('Of which day are all rows?');
    expect(asked).toContain('Say below of which day all rows are: they are read then.');
    await manager.post(`${at}/reading`, { 'day-above': '2026-11-13' });
    const answered = words((await manager.get(at)).body);
    expect(answered).toContain('2 readings would be taken');
    expect(answered).toContain('13 Nov 2026 12:00');
  });
});
