// npm run certificate [-- NAME ...]    HTTPS on the house's own network, by an authority of the farm's own
import { chmod, mkdir, readFile, writeFile } from 'node:fs/promises';
import { hostname } from 'node:os';
import { join, resolve } from 'node:path';
import { readConfig } from '../config.ts';
import { networkAddresses } from '../words/addresses.ts';
import { type Identity, issue, makeAuthority } from './authority.ts';

const say = (line = '') => process.stdout.write(`${line}\n`);

async function authorityIn(folder: string, now: Date): Promise<{ authority: Identity; isNew: boolean }> {
  const [certificateFile, keyFile] = [join(folder, 'authority.crt'), join(folder, 'authority.key')];
  const [certificate, key] = await Promise.all(
    [certificateFile, keyFile].map((file) => readFile(file, 'utf8').catch(() => null)),
  );
  if (certificate && key) return { authority: { certificate, key }, isNew: false };
  const authority = await makeAuthority('Evenwater', now);
  await writeFile(certificateFile, authority.certificate);
  await writeFile(keyFile, authority.key, { mode: 0o600 });
  return { authority, isNew: true };
}

try {
  const now = new Date();
  const config = readConfig({ LOG_LEVEL: 'warn', ...process.env });
  const folder = join(resolve(config.EVENWATER_DATA), 'tls');
  await mkdir(folder, { recursive: true, mode: 0o700 });
  const own = hostname().toLowerCase();
  const asked = process.argv.slice(2);
  const names = [
    ...new Set([
      ...asked,
      own,
      `${own.split('.')[0]}.local`,
      'localhost',
      '127.0.0.1',
      ...networkAddresses().map((one) => one.replace(/[[\]]/g, '')),
    ]),
  ];
  const { authority, isNew } = await authorityIn(folder, now);
  const server = await issue(authority, names, now);
  const [certificate, key] = [join(folder, 'server.crt'), join(folder, 'server.key')];
  await writeFile(certificate, `${server.certificate}\n${authority.certificate}`);
  await writeFile(key, server.key, { mode: 0o600 });
  await chmod(key, 0o600);
  say(`A certificate for ${names.join(', ')} is made. It is good for 800 days; this command makes the next.`);
  say();
  say('Start the service with');
  say(`  TLS_CERTIFICATE=${certificate}`);
  say(`  TLS_KEY=${key}`);
  say();
  say(
    isNew
      ? 'Let each tablet trust the farm’s own authority, once:'
      : 'The authority is the one that tablets trust already. For a new one:',
  );
  say(`  1. Bring ${join(folder, 'authority.crt')} onto it (by cable, mail or a shared folder).`);
  say('  2. Open the file there and install it: as a CA certificate under the settings for security;');
  say('     on tablets that ask for it, also switch on full trust for it.');
  say('  3. Open the service by one of the names above, with https:// before it.');
  say(
    `Keep ${join(folder, 'authority.key')} to yourself: whoever has it can pretend to be any site to these tablets.`,
  );
} catch (error) {
  process.stderr.write(`${error instanceof Error ? error.message : String(error)}\n`);
  process.exit(1);
}
