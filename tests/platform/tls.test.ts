import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { createServer, request } from 'node:https';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { type Identity, issue, makeAuthority } from '../../src/platform/tls/authority.ts';
import { readTls } from '../../src/platform/tls/settings.ts';

const now = new Date();
let folder: string;
let authority: Identity;
let server: Identity;

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'evenwater-tls-'));
  authority = await makeAuthority('Saltgate Yard', now);
  server = await issue(authority, ['frags.local', '127.0.0.1', '::1'], now);
});
afterAll(() => rm(folder, { recursive: true, force: true }));

const file = async (name: string, text: string) => {
  await writeFile(join(folder, name), text);
  return join(folder, name);
};

/** What a client that trusts `ca` gets from a server with this identity, asked for by a name: OpenSSL decides. */
function ask(identity: Identity, ca: string, servername: string): Promise<string> {
  const host = createServer({ cert: identity.certificate, key: identity.key }, (_, reply) =>
    reply.end('hello'),
  );
  return new Promise<string>((done, failed) => {
    host.listen(0, '127.0.0.1', () => {
      const { port } = host.address() as AddressInfo;
      const asked = request(
        { host: '127.0.0.1', port, ca, servername, headers: { host: servername } },
        (answer) => {
          answer.setEncoding('utf8').on('data', done);
        },
      );
      asked.on('error', failed).end();
    });
  }).finally(() => host.close());
}

describe('an authority of the farm’s own', () => {
  test('is believed by whoever trusts it, for the names it was asked for', async () => {
    expect(await ask(server, authority.certificate, 'frags.local')).toBe('hello');
    await expect(ask(server, authority.certificate, 'other.local')).rejects.toThrow(/altnames/);
  });

  test('is not believed by anybody else', async () => {
    const other = await makeAuthority('Other', now);
    await expect(ask(server, other.certificate, 'frags.local')).rejects.toThrow(/verify|issuer|signature/);
  });

  test('issues again without being trusted again', async () => {
    const next = await issue(authority, ['new-name.local'], now);
    expect(await ask(next, authority.certificate, 'new-name.local')).toBe('hello');
  });
});

describe('the two settings', () => {
  test('give the web server what it needs, and neither means plain HTTP', async () => {
    const settings = {
      TLS_CERTIFICATE: await file('server.crt', server.certificate),
      TLS_KEY: await file('server.key', server.key),
    };
    expect(readTls(settings, now)).toMatchObject({ cert: server.certificate, key: server.key });
    expect(readTls({ TLS_CERTIFICATE: undefined, TLS_KEY: undefined }, now)).toBeNull();
  });

  test.each([
    ['one without the other', { TLS_CERTIFICATE: 'server.crt' }, 'needs two settings'],
    ['a file that is not there', { TLS_CERTIFICATE: 'none.crt', TLS_KEY: 'server.key' }, 'cannot be read'],
    [
      'a text that is no certificate',
      { TLS_CERTIFICATE: 'words.txt', TLS_KEY: 'server.key' },
      'is not a certificate',
    ],
    [
      'a text that is no key',
      { TLS_CERTIFICATE: 'server.crt', TLS_KEY: 'words.txt' },
      'is not a private key',
    ],
    ['another’s key', { TLS_CERTIFICATE: 'server.crt', TLS_KEY: 'other.key' }, 'is not the key of'],
  ])('%s is named', async (_, given, words) => {
    await file('words.txt', 'hello');
    await file('server.crt', server.certificate);
    await file('server.key', server.key);
    await file('other.key', (await issue(authority, ['x.local'], now)).key);
    const at = (name: string | undefined) => (name === undefined ? undefined : join(folder, name));
    const { TLS_CERTIFICATE, TLS_KEY } = given as { TLS_CERTIFICATE?: string; TLS_KEY?: string };
    expect(() => readTls({ TLS_CERTIFICATE: at(TLS_CERTIFICATE), TLS_KEY: at(TLS_KEY) }, now)).toThrow(words);
  });

  test('a certificate that ran out is named with its day', async () => {
    const settings = {
      TLS_CERTIFICATE: await file('old.crt', server.certificate),
      TLS_KEY: await file('old.key', server.key),
    };
    expect(() => readTls(settings, new Date(now.getTime() + 801 * 86_400_000))).toThrow(
      /ran out on \d{4}-\d\d-\d\d/,
    );
  });
});
