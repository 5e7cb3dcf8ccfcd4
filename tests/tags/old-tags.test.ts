import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { publicKey } from '../../src/tags/record/signing.ts';
import { alteredTags } from '../../src/tags/tags/altered-tags.ts';
import { makeShelf } from '../stock/shelf.ts';
import { type Bench, browse, startBench } from '../support/service.ts';
import old from './old-tags.json' with { type: 'json' };

/** Records as earlier versions wrote and signed them, byte for byte, with a key that signs nothing else. */
const [first, second] = old.tags.map((tag, i) => ({ ...tag, token: `old-tag-of-format-000${i + 1}` }));
if (first === undefined || second === undefined) throw new Error('two old tags are kept');

describe('a tag of an earlier version', () => {
  let bench: Bench;
  const pageOf = async ({ token }: { token: string }) => (await browse(bench.app).get(`/t/${token}`)).body;

  beforeAll(async () => {
    bench = await startBench({ watching: false });
    const shelf = await makeShelf(bench);
    const lot = await shelf.lot();
    await bench.service.db.secret.upsert({
      where: { name: 'tag-signing-key' },
      create: { name: 'tag-signing-key', value: JSON.stringify(old.key) },
      update: { value: JSON.stringify(old.key) },
    });
    for (const { token, record, signature } of [first, second]) {
      const issuedAt = new Date('2026-06-01T09:00:00Z');
      await bench.service.db.tag.create({
        data: { token, lotId: lot.id, pieces: 2, issuedAt, record, signature },
      });
    }
  });
  afterAll(() => bench.close());

  test('still is what was signed', async () => {
    expect(await alteredTags(bench.service.db)).toEqual([]);
    expect((await publicKey(bench.service.db)).x).toBe(old.key.x);
    for (const tag of [first, second]) expect(await pageOf(tag)).not.toMatch(/altered|not what was signed/i);
  });

  test('says what it knew then, and adds nothing that it did not', async () => {
    const page = await pageOf(first);
    expect(page).toContain('Goniastrea cf. edwardsi');
    expect(page).toContain('85 to 95, 3.2 mol a day over 90 days');
    expect(page).toContain('21 tests in 30 days');
    expect(page).not.toContain('Dosed');
    expect(page).not.toMatch(/undefined|NaN|Invalid|null/);
  });

  test('of the second format says since when its light is known, and the name it was sold as', async () => {
    const page = await pageOf(second);
    expect(page).toContain('since 20 May 2026; before that it is not known');
    expect(page).toContain('Harbour Light');
    expect(page).not.toContain('over 90 days');
    expect(page).not.toMatch(/undefined|NaN|Invalid|null/);
  });

  test('shows as altered once a byte of it is changed', async () => {
    const { id } = await bench.service.db.tag.findUniqueOrThrow({ where: { token: first.token } });
    const record = first.record.replace('"pieces":2', '"pieces":9');
    await bench.service.db.$executeRaw`ALTER TABLE tag DISABLE TRIGGER ALL`;
    await bench.service.db.tag.update({ where: { id }, data: { record } });
    expect(await alteredTags(bench.service.db)).toHaveLength(1);
    expect(await pageOf(first)).toMatch(/changed|altered/i);
  });
});
