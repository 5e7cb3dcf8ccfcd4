import { X509Certificate } from 'node:crypto';
import { readFileSync } from 'node:fs';
import type { Config } from '../../platform/config.ts';

/** How the broker is reached. */
export interface BrokerSettings {
  /** Without its name and password. */
  url: string;
  /** "broker.example:8883", as people are told. */
  broker: string;
  username: string | undefined;
  password: string | undefined;
  ca: Buffer | undefined;
  /** What the service's own topics begin with. */
  prefix: string;
}

type Given = Pick<Config, 'MQTT_URL' | 'MQTT_PASSWORD' | 'MQTT_CA' | 'MQTT_TOPIC'>;

/**
 * The settings of the broker; null where none is set.
 * @throws Error naming the setting that does not fit, and what it takes
 */
export function readBroker({ MQTT_URL, MQTT_PASSWORD, MQTT_CA, MQTT_TOPIC }: Given): BrokerSettings | null {
  if (MQTT_URL === undefined) {
    const alone = Object.entries({ MQTT_PASSWORD, MQTT_CA }).find(([, value]) => value !== undefined);
    if (alone !== undefined)
      throw new Error(`${alone[0]} is set without MQTT_URL. Set the broker's address, or neither.`);
    return null;
  }
  const url = new URL(MQTT_URL);
  const isSecure = url.protocol === 'mqtts:';
  if (MQTT_CA !== undefined && !isSecure)
    throw new Error('MQTT_CA is for mqtts:// alone. Let MQTT_URL begin with mqtts://, or leave MQTT_CA out.');
  const username = url.username === '' ? undefined : decodeURIComponent(url.username);
  const inUrl = url.password === '' ? undefined : decodeURIComponent(url.password);
  const password = MQTT_PASSWORD ?? inUrl;
  if (password !== undefined && username === undefined)
    throw new Error('MQTT_PASSWORD needs a name in MQTT_URL: mqtts://name@broker.example.');
  const port = url.port === '' ? (isSecure ? '8883' : '1883') : url.port;
  return {
    url: `${url.protocol}//${url.hostname}:${port}`,
    broker: `${url.hostname}:${port}`,
    username,
    password,
    ca: MQTT_CA === undefined ? undefined : readAuthority(MQTT_CA),
    prefix: MQTT_TOPIC,
  };
}

function readAuthority(path: string): Buffer {
  let pem: Buffer;
  try {
    pem = readFileSync(path);
  } catch (error) {
    throw new Error(`MQTT_CA: ${path} cannot be read (${(error as Error).message}).`);
  }
  try {
    new X509Certificate(pem);
  } catch {
    throw new Error(`MQTT_CA: ${path} is not a certificate in PEM form.`);
  }
  return pem;
}
