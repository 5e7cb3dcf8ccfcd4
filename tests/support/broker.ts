import { type ChildProcess, spawn, spawnSync } from 'node:child_process';
import { once } from 'node:events';
import { existsSync } from 'node:fs';
import { chmod, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync, type IClientOptions, type MqttClient } from 'mqtt';
import { issue, makeAuthority } from '../../src/platform/tls/authority.ts';
import { freePort } from './free-port.ts';

const usualPlaces = ['/usr/sbin/mosquitto', '/usr/bin/mosquitto', '/usr/local/sbin/mosquitto'];
const advice =
  'No MQTT broker for the tests. Install one (Debian: apt-get install mosquitto) or set EVENWATER_MOSQUITTO to its path.';

const attempt = (command: string, args: string[], env = process.env): boolean =>
  spawnSync(command, args, { stdio: 'ignore', env }).status === 0;

/** A broker that speaks MQTT 5: one that is there, else Debian's package, where this user may install packages. */
function ensureBroker(): string {
  const find = () => [process.env.EVENWATER_MOSQUITTO ?? '', ...usualPlaces].find(existsSync);
  const found = find();
  if (found !== undefined) return found;
  // Without a run level the package starts no broker of its own.
  const env = { ...process.env, DEBIAN_FRONTEND: 'noninteractive', RUNLEVEL: '1' };
  const get = (...args: string[]) => attempt('apt-get', args, env);
  const install = () => get('install', '-y', '-q', '--no-install-recommends', 'mosquitto');
  if (
    process.getuid?.() === 0 &&
    existsSync('/usr/bin/apt-get') &&
    (install() || (get('update', '-q') && install()))
  ) {
    const path = find();
    if (path !== undefined) return path;
  }
  throw new Error(advice);
}

/** A real broker by TLS alone, with a certificate of an authority of its own, that one name and password open. */
export interface Broker {
  url: string;
  /** Settings with which the service finds it. */
  settings: Record<string, string>;
  /** Another program at the broker. */
  visit(options?: IClientOptions): Promise<MqttClient>;
  stop(): Promise<void>;
  start(): Promise<void>;
  close(): Promise<void>;
}

const name = 'farm';
const password = 'salt/and@water';

/** Starts a broker that keeps what it holds over its own stop. */
export async function startBroker(): Promise<Broker> {
  const program = ensureBroker();
  const folder = await mkdtemp(join(tmpdir(), 'evenwater-broker-'));
  const port = await freePort();
  const authority = await makeAuthority('Saltgate Yard', new Date());
  const server = await issue(authority, ['127.0.0.1'], new Date());
  const files = {
    'ca.pem': authority.certificate,
    'cert.pem': server.certificate,
    'key.pem': server.key,
    words: `${name}:${password}\n`,
    'broker.conf': [
      `listener ${port} 127.0.0.1`,
      ...[`cafile ${folder}/ca.pem`, `certfile ${folder}/cert.pem`, `keyfile ${folder}/key.pem`],
      ...['allow_anonymous false', `password_file ${folder}/words`],
      ...['persistence true', `persistence_location ${folder}/`, 'max_queued_messages 100000'],
      ...(process.getuid?.() === 0 ? ['user root'] : []),
    ].join('\n'),
  };
  for (const [file, text] of Object.entries(files)) {
    await writeFile(join(folder, file), text);
    await chmod(join(folder, file), 0o600);
  }
  // Beside the broker in its package: it turns the words into hashes.
  attempt('mosquitto_passwd', ['-U', join(folder, 'words')]);
  const url = `mqtts://${name}@127.0.0.1:${port}`;
  let running: ChildProcess;
  const stop = async () => {
    const ended = once(running, 'exit');
    running.kill('SIGTERM');
    await ended;
  };
  const visit = (options: IClientOptions = {}) =>
    connectAsync(url, {
      password,
      ca: authority.certificate,
      protocolVersion: 5,
      reconnectPeriod: 0,
      // A busy machine is not a lost connection.
      keepalive: 0,
      ...options,
    });
  const start = async () => {
    running = spawn(program, ['-c', join(folder, 'broker.conf')], { stdio: 'ignore' });
    for (;;) {
      const found = await visit().catch((error: unknown) => error as Error);
      if (!(found instanceof Error)) return void (await found.endAsync());
      if (running.exitCode !== null) throw found;
      await new Promise((done) => setTimeout(done, 50));
    }
  };
  await start();
  return {
    url,
    settings: { MQTT_URL: url, MQTT_PASSWORD: password, MQTT_CA: join(folder, 'ca.pem') },
    visit,
    stop,
    start,
    close: async () => {
      await stop();
      await rm(folder, { recursive: true, force: true });
    },
  };
}
