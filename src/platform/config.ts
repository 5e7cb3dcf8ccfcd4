import { readFileSync } from 'node:fs';
import { isIP } from 'node:net';
import { z } from 'zod';

/** Whether text is an address, or a subnet as an address with the length of its prefix (RFC 4632). */
function isNetwork(text: string): boolean {
  const [address = '', length, ...more] = text.trim().split('/');
  const longest = { 0: -1, 4: 32, 6: 128 }[isIP(address)] ?? -1;
  return (
    more.length === 0 && longest > 0 && /^\d{1,3}$/.test(length ?? '0') && Number(length ?? 0) <= longest
  );
}

/** "true" (one proxy), "false", or addresses and subnets of proxies, with commas between. */
const proxies = z
  .string()
  .refine((text) => text === 'true' || text === 'false' || text.split(',').every(isNetwork), {
    error: 'true, false, or the addresses of the proxies: 10.0.0.2, 192.168.4.0/24',
  })
  .transform((text) => (text === 'true' ? 1 : text === 'false' ? false : text));

/** Every setting the service reads from its environment. A name with `_FILE` behind it reads the value from a file. */
const settings = z.object({
  /** A PostgreSQL (16 or later) to use; without it the embedded one runs. */
  DATABASE_URL: z
    .url({ protocol: /^postgres(ql)?$/, error: 'an address that begins with postgresql://' })
    .optional(),
  /** The password of DATABASE_URL's user, where it should not stand in the address. */
  DATABASE_PASSWORD: z.string().optional(),
  /** A standby that follows DATABASE_URL: public tags, charts and exports are read from it while it keeps up. */
  DATABASE_REPLICA_URL: z
    .url({ protocol: /^postgres(ql)?$/, error: 'an address that begins with postgresql://' })
    .optional(),
  /** Folder of the embedded server's data and of what the service keeps in files. */
  EVENWATER_DATA: z.string().default('./data'),
  /** Whether the service makes backups by itself, or the owner does elsewhere (a PostgreSQL with backups of its own). */
  BACKUPS: z.enum(['nightly', 'elsewhere']).default('nightly'),
  /** Where backups are kept: best another disk. Without it, `backups` beside the data. */
  BACKUP_FOLDER: z.string().optional(),
  /** The public half of an age key (age1...), to which backups are encrypted. */
  BACKUP_RECIPIENT: z
    .string()
    .regex(/^age1[a-z0-9]+$/, { error: 'the public half of an age key, which begins with age1' })
    .optional(),
  HOST: z.string().default('127.0.0.1'),
  /** Without it 8080, or the next free one when that is taken. */
  PORT: z.coerce.number().int().min(0).max(65_535).optional(),
  /** For HTTPS: the files with the certificate (and its chain) and with its key, in PEM form. */
  TLS_CERTIFICATE: z.string().optional(),
  TLS_KEY: z.string().optional(),
  /** Where people reach the service: in mails, labels and QR codes. Without it, the address it listens on. */
  PUBLIC_URL: z
    .url({ protocol: /^https?$/, error: 'an address that begins with http:// or https://' })
    .refine((address) => /^[^@?#]*$/.test(address), {
      error: 'an address without a name, a password, ? and #: it is printed on labels',
    })
    .optional(),
  /**
   * Whose word on the visitor's address is taken: true for the one proxy right before the service, or the addresses of
   * proxies. Anybody else could make up an address for each try at a password.
   */
  TRUST_PROXY: proxies.default(false),
  /** The server that takes the digest's mail: smtp://name@host:587, or smtps://. Without it letters are kept as files. */
  SMTP_URL: z.url({ protocol: /^smtps?$/ }).optional(),
  /** The password of SMTP_URL's user, where it should not stand in the address. */
  SMTP_PASSWORD: z.string().optional(),
  /** Whom mail comes from. */
  MAIL_FROM: z
    .string()
    .regex(/^[^<>\r\n]*<[^\s<>@]+@[^\s<>@]+>$|^[^\s<>@]+@[^\s<>@]+$/, {
      error: 'an address, or a name with an address: Evenwater <farm@example.org>',
    })
    .default('Evenwater <evenwater@localhost>'),
  /** A broker that speaks MQTT 5, for probes and controllers and for alerts: mqtt://name@host:1883, or mqtts:// for TLS. */
  MQTT_URL: z
    .url({ protocol: /^mqtts?$/, error: 'an address that begins with mqtt:// or mqtts://' })
    .refine((address) => /^mqtts?:\/\/[^/?#]+\/?$/.test(address), {
      error: 'an address with a name and a port at most: mqtts://farm@broker.example:8883',
    })
    .optional(),
  /** The password of MQTT_URL's user, where it should not stand in the address. */
  MQTT_PASSWORD: z.string().optional(),
  /** The file with the authority (PEM) that signed the broker's certificate, where that is one of the farm's own. */
  MQTT_CA: z.string().optional(),
  /** What the service's own topics begin with: TOPIC/alerts/..., TOPIC/status. */
  MQTT_TOPIC: z
    .string()
    .regex(/^[^+#$/\0][^+#\0]{0,99}(?<!\/)$/, {
      error: 'what topics begin with, without +, #, a $ in front, and / at an end: farm/evenwater',
    })
    .default('evenwater'),
  /**
   * Networks that webhooks may reach besides the public internet, with commas between, or "none". Addresses outside of both
   * (the machine itself, unless it is named here) are never called.
   */
  WEBHOOK_NETWORKS: z
    .string()
    .refine((text) => text === 'none' || text.split(',').every(isNetwork), {
      error: 'none, or networks: 10.0.0.0/8,192.168.4.0/24',
    })
    .default('10.0.0.0/8,172.16.0.0/12,192.168.0.0/16,fc00::/7'),
  /** Opens /metrics for whoever sends it (Authorization: Bearer ...); without it there is none. */
  METRICS_TOKEN: z
    .string()
    .min(16, { error: 'at least 16 characters: openssl rand -hex 24 makes a good one' })
    .regex(/^[!-~]+$/, { error: 'letters, digits and signs without spaces' })
    .optional(),
  LOG_LEVEL: z.enum(['fatal', 'error', 'warn', 'info', 'debug', 'trace', 'silent']).default('info'),
});

export type Config = z.output<typeof settings>;

const secret = new Set([
  'DATABASE_URL',
  'DATABASE_REPLICA_URL',
  'DATABASE_PASSWORD',
  'SMTP_URL',
  'SMTP_PASSWORD',
  'MQTT_URL',
  'MQTT_PASSWORD',
  'METRICS_TOKEN',
]);

function fromFiles(env: NodeJS.ProcessEnv): NodeJS.ProcessEnv {
  const read: NodeJS.ProcessEnv = { ...env };
  for (const name of Object.keys(settings.shape)) {
    const file = env[`${name}_FILE`];
    if (file !== undefined && env[name] === undefined) read[name] = readFileSync(file, 'utf8').trim();
  }
  return read;
}

/**
 * Reads the settings once.
 * @throws Error with one line per setting that does not fit, naming it and what it takes
 */
export function readConfig(env: NodeJS.ProcessEnv): Config {
  const parsed = settings.safeParse(fromFiles(env));
  if (parsed.success) return whole(withPassword(parsed.data));
  const lines = parsed.error.issues.map((issue) => `${issue.path.join('.')}: ${issue.message}`);
  throw new Error(`The settings do not fit:\n${lines.join('\n')}`);
}

/** @throws Error where a setting needs another */
function whole(config: Config): Config {
  if (config.DATABASE_REPLICA_URL !== undefined && config.DATABASE_URL === undefined)
    throw new Error(
      'DATABASE_REPLICA_URL is set without DATABASE_URL: the embedded database has no replica.',
    );
  return config;
}

function withPassword(config: Config): Config {
  const { DATABASE_URL, DATABASE_REPLICA_URL, DATABASE_PASSWORD: password } = config;
  const withIt = (address: string | undefined) => {
    if (address === undefined || password === undefined) return address;
    const url = new URL(address);
    url.password = password;
    return url.href;
  };
  return {
    ...config,
    DATABASE_URL: withIt(DATABASE_URL),
    DATABASE_REPLICA_URL: withIt(DATABASE_REPLICA_URL),
  };
}

/** The settings as they may be shown or logged: secrets hidden. */
export function shownConfig(config: Config): Record<string, unknown> {
  const entries = Object.entries(config).map(([name, value]) => [
    name,
    secret.has(name) && value !== undefined ? '(set)' : value,
  ]);
  return Object.fromEntries(entries);
}

/** The names of all settings, for the documentation's test. */
export const settingNames: readonly string[] = Object.keys(settings.shape);
