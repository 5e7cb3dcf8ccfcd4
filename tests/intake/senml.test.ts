import { describe, expect, test } from 'vitest';
import { senmlUnit } from '../../src/intake/probes/units.rules.ts';
import { packSchema, resolvePack } from '../../src/intake/senml/senml.rules.ts';
import { num, type Row, referenceTable, text } from '../support/csv.ts';
import { published } from '../support/published.ts';
import { farm } from './files.ts';

const rfc = published(
  'SenML packs resolved',
  'RFC 8428 (2018), 5.1.4 and the resolved files of its working group',
  { absolute: 1e-6 },
);

const packs = Map.groupBy(referenceTable('standard_senml_packs'), (row) => text(row, 'pack'));
const resolved = Map.groupBy(referenceTable('standard_senml_resolved'), (row) => text(row, 'pack'));
const numbers = new Set(['bt', 'bver', 't', 'v']);

function recordOf(row: Row): object {
  const fields = ['bn', 'bt', 'bu', 'bver', 'n', 'u', 't', 'v'].filter((field) => text(row, field) !== '');
  return Object.fromEntries(
    fields.map((field) => [field, numbers.has(field) ? num(row, field) : text(row, field)]),
  );
}

function resolve(pack: object[], now = 0) {
  const told = resolvePack(packSchema.parse(pack), now);
  if ('fault' in told) throw new Error(told.fault);
  return told.records;
}

describe('the base values of a pack', () => {
  test.each([...packs.keys()])('are worked in as the standard’s example %s has them', (name) => {
    const records = resolve((packs.get(name) ?? []).map(recordOf));
    const wanted = resolved.get(name) ?? [];
    expect(records.map(({ n, u }) => [n, u])).toEqual(wanted.map((row) => [text(row, 'n'), text(row, 'u')]));
    for (const [i, row] of wanted.entries()) {
      rfc.check(records[i]?.t ?? Number.NaN, num(row, 't'), `${name} time ${i + 1}`);
      rfc.check(records[i]?.v ?? Number.NaN, num(row, 'v'), `${name} value ${i + 1}`);
    }
  });

  test('below 2^28 a time is relative to now; a base value is added', () => {
    const records = resolve(
      [
        { bn: 'a:', bt: -60, bv: 20, bu: 'Cel', n: 't', v: 5 },
        { n: 't', t: 30, v: 6 },
      ],
      1_800_000_000,
    );
    expect(records).toEqual([
      { n: 'a:t', u: 'Cel', t: 1_799_999_940, v: 25, timed: false },
      { n: 'a:t', u: 'Cel', t: 1_799_999_970, v: 26, timed: false },
    ]);
  });

  test('records of text, truth and data are passed over, bases alone are kept for the next', () => {
    expect(
      resolve([
        { bn: 'a/', bt: 1_800_000_000 },
        { n: 'door', vb: true },
        { n: 'ph', u: 'pH', v: 8.1 },
      ]),
    ).toEqual([{ n: 'a/ph', u: 'pH', t: 1_800_000_000, v: 8.1, timed: true }]);
  });
});

describe('a pack that cannot be used', () => {
  test.each([
    ['a newer version', [{ bver: 11, n: 'a', v: 1 }], 'version 11 is not understood'],
    [
      'two versions',
      [
        { bver: 5, n: 'a', v: 1 },
        { bver: 6, n: 'a', v: 1 },
      ],
      'different versions',
    ],
    ['a field that must be understood', [{ n: 'a', v: 1, foo_: 2 }], '"foo_", which must be understood'],
    ['no name', [{ v: 1 }], 'no name'],
    ['a name with a space', [{ n: 'a b', v: 1 }], 'not a SenML name'],
  ])('is refused for %s', (_, pack, words) => {
    const told = resolvePack(packSchema.parse(pack), 0);
    expect('fault' in told ? told.fault : '').toContain(words);
  });
});

describe('units of the registry', () => {
  const { quantities } = farm().instruments;
  const of = (code: string, value: number, unit: string | null) => {
    const quantity = quantities.get(code);
    if (quantity === undefined) throw new Error(code);
    const read = senmlUnit(quantity, unit);
    return 'fault' in read ? read : { value: read.of(value), unit: read.unit };
  };

  test.each([
    ['temperature', 25.2, 'Cel', { value: 25.2, unit: 'degC' }],
    ['temperature', 298.35, 'K', { value: 25.2, unit: 'degC' }],
    ['salinity', 5.306, 'S/m', { value: 53.06, unit: 'mS/cm' }],
    ['ph', 8.1, 'pH', { value: 8.1, unit: 'pH' }],
    ['ph', 8.1, null, { value: 8.1, unit: 'pH' }],
    ['orp', 0.345, 'V', { value: 345, unit: 'mV' }],
    ['nitrate', 0.0042, 'kg/m3', { value: 4.2, unit: 'mg/L' }],
    ['nitrate', 4.2, 'mg/l', { value: 4.2, unit: 'mg/L' }],
  ])('%s of %s %s is understood', (code, value, unit, wanted) => {
    expect(of(code, value, unit)).toEqual(wanted);
  });

  test('of something else, or none, are refused', () => {
    expect(of('temperature', 30, '%RH')).toEqual({ fault: '"%RH" is not a unit of temperature' });
    expect(of('temperature', 25, null)).toEqual({ fault: 'states no unit' });
  });
});
