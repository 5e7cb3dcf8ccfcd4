import { setTimeout as wait } from 'node:timers/promises';
import type { IClientOptions, MqttClient } from 'mqtt';
import { sparingly } from '../../platform/log.ts';
import { secretNamed } from '../../platform/secrets.ts';
import type { Service } from '../../platform/service.ts';
import { dayMs } from '../../science/numeric/time.ts';
import { alertsToTell, forgetTold, noteTold } from './alerts-out.ts';
import { forgetFilter, noteAlertFailure, noteBrokerState, noteRefusal, wantedFilters } from './connection.ts';
import { type Arrival, keepMessage, readWaiting } from './messages.ts';
import type { BrokerSettings } from './settings.ts';

const dayS = dayMs / 1000;
/** How long the broker is asked to keep what comes while nobody listens (own choice: a long weekend and its repair). */
const sessionExpiryS = 7 * dayS;
/** Messages that the broker gives before the first is acknowledged (MQTT 5, 3.1.2.11.3); own choice. */
const atOnce = 100;
/** Another instance takes over within this time, and nobody is told that the service is gone. */
const willDelayS = 6;
/** An alert that has ended stays to be read at the broker for a day. */
const endedStaysS = dayS;
/** A larger message is not asked for, as none is taken by the web: the broker leaves it out (MQTT 5, 3.1.2.11.4). */
const largestBytes = 2 * 1024 * 1024;
const lookEveryMs = 1000;
/** So many messages are worth a transaction of their own; where fewer waited, others get so long to come (own choices). */
const enough = 50;
const gatherMs = 40;
const reconnectMs = 2000;
/** MQTT 5, 3.14.2.1: somebody else came under the same name, mostly the instance that follows this one. */
const takenOver = 0x8e;
const afterTakeoverMs = 15_000;
/** MQTT 5, 3.14.2.1: the broker says our last will. */
const withWill = 0x04;
const endingMs = 3000;
/** Words that say how it stands, on the service's own topic. */
const here = 'online';
const gone = 'offline';

/** The library, read with the first connection. */
const library = () => import('mqtt');

const qos = 1 as const;
/** MQTT 5, 3.8.3.1: what the broker kept as last is given at each subscribing, or never. */
const keptGiven = 0 as const;
const keptLeft = 2 as const;

function optionsOf({ username, password, ca, prefix }: BrokerSettings, clientId: string): IClientOptions {
  return {
    ...(username === undefined ? {} : { username }),
    ...(password === undefined ? {} : { password }),
    ...(ca === undefined ? {} : { ca }),
    protocolVersion: 5,
    clientId,
    clean: false,
    keepalive: 30,
    connectTimeout: 10_000,
    reconnectPeriod: reconnectMs,
    reconnectOnConnackError: true,
    resubscribe: false,
    manualConnect: true,
    properties: {
      sessionExpiryInterval: sessionExpiryS,
      receiveMaximum: atOnce,
      maximumPacketSize: largestBytes,
    },
    will: {
      topic: `${prefix}/status`,
      payload: Buffer.from(gone),
      qos,
      retain: true,
      properties: { willDelayInterval: willDelayS },
    },
  };
}

/** What people are told of an error of the connection. */
function failureWords(error: unknown): string {
  const { code, message } = error as { code?: unknown; message?: string };
  if (code === 'ECONNREFUSED') return 'nobody answers at its address';
  if (code === 'ENOTFOUND' || code === 'EAI_AGAIN') return 'its name is not known';
  return message || String(code ?? error);
}

/**
 * Holds the connection to the broker until it is ended: listens to the topics of all sites, keeps each message before the
 * broker may forget it, reads what it kept, and tells the broker of alerts.
 * @returns what ends it
 */
export async function holdBroker(service: Service, settings: BrokerSettings): Promise<() => Promise<void>> {
  const { connect } = await library();
  const clientId = `evenwater-${(await secretNamed(service.db, 'mqtt client')).slice(0, 12)}`;
  const client = connect(settings.url, optionsOf(settings, clientId));
  const holding = new Holding(service, settings, client);
  holding.start();
  client.connect();
  return () => holding.end();
}

class Holding {
  readonly #service: Service;
  readonly #settings: BrokerSettings;
  readonly #client: MqttClient;
  readonly #log: (error: unknown) => void;
  #on = true;
  #run: Promise<void> = Promise.resolve();
  #wake: () => void = () => undefined;
  /** Filters that the broker gives on this connection. */
  #given = new Map<string, boolean>();
  /** Until what waited at the broker has come. */
  #isCatchingUp = false;
  #lastArrival = 0;
  /** Why alerts do not go out, as it was kept last. */
  #unsaid = '';
  /** Ends the wait for an answer of the broker. */
  #giveUp: (reason: Error) => void = () => undefined;

  constructor(service: Service, settings: BrokerSettings, client: MqttClient) {
    this.#service = service;
    this.#settings = settings;
    this.#client = client;
    this.#log = sparingly(service.log, 'the broker');
  }

  start(): void {
    const client = this.#client;
    // Heard before anything that waited, which "connect" is not.
    client.on('packetreceive', (packet) => {
      if (packet.cmd === 'connack') this.#isCatchingUp = packet.sessionPresent;
    });
    client.on('connect', ({ sessionPresent, properties }) => {
      this.#given = new Map();
      client.options.reconnectPeriod = reconnectMs;
      void this.#connected(sessionPresent, properties?.sessionExpiryInterval ?? sessionExpiryS);
    });
    client.on('disconnect', ({ reasonCode }) => {
      if (reasonCode !== takenOver) return;
      client.options.reconnectPeriod = afterTakeoverMs;
      this.#log(new Error('another connection took over the session at the broker'));
    });
    client.on('close', () => {
      this.#giveUp(new Error('the connection ended'));
      this.#failed('');
    });
    client.on('error', (error) => {
      this.#log(error);
      this.#failed(failureWords(error));
    });
    // The broker is told that a message has come once `done` is called: not before its row is safe.
    client.handleMessage = (packet, done) => {
      if (this.#isOwn(packet.topic)) {
        if (packet.topic === this.#markTopic) this.#isCatchingUp = false;
        return done();
      }
      void this.#keep({
        topic: packet.topic.toString(),
        payload: Buffer.from(packet.payload),
        retained: packet.retain,
        waited: this.#isCatchingUp,
        packetId: packet.messageId ?? 0,
        again: packet.dup,
        at: this.#arrival(),
      }).then((kept) => {
        if (kept) done();
      });
    };
    this.#run = this.#work();
  }

  /** A topic of our own: what we send on it comes back after all that waited. */
  get #markTopic(): string {
    return `${this.#settings.prefix}/mark/${this.#client.options.clientId}`;
  }

  /** What the service itself sends comes back where somebody listens to all topics. */
  #isOwn(topic: string): boolean {
    return ['status', 'alerts', 'mark'].some(
      (own) =>
        topic === `${this.#settings.prefix}/${own}` || topic.startsWith(`${this.#settings.prefix}/${own}/`),
    );
  }

  /** No two messages arrive at the same millisecond: values that state no time would count as one. */
  #arrival(): Date {
    this.#lastArrival = Math.max(this.#service.now().getTime(), this.#lastArrival + 1);
    return new Date(this.#lastArrival);
  }

  /** Keeps a message, however long the database is away. @returns false where this ended first: it comes again */
  async #keep(arrival: Arrival): Promise<boolean> {
    while (this.#on) {
      try {
        await keepMessage(this.#service.pool, arrival);
        this.#wake();
        return true;
      } catch (error) {
        this.#log(error);
        await wait(lookEveryMs);
      }
    }
    return false;
  }

  async #connected(sessionPresent: boolean, keepsS: number): Promise<void> {
    const { pool, now, log } = this.#service;
    const { broker, prefix } = this.#settings;
    try {
      log.info({ broker, sessionPresent }, 'connected to the broker');
      await noteBrokerState(pool, { broker, connectedAt: now(), keepsS, failure: '' }, now());
      if (!sessionPresent) await forgetTold(pool);
      await this.#client.publishAsync(`${prefix}/status`, here, { qos, retain: true });
      if (sessionPresent) {
        await this.#client.subscribeAsync(this.#markTopic, { qos, rh: keptLeft });
        await this.#client.publishAsync(this.#markTopic, '', { qos });
      }
      this.#wake();
    } catch (error) {
      this.#log(error);
    }
  }

  #failed(failure: string): void {
    if (!this.#on) return;
    const { pool, now } = this.#service;
    const { broker } = this.#settings;
    void noteBrokerState(
      pool,
      { broker, connectedAt: null, keepsS: null, failure: failure || 'the connection ended' },
      now(),
    ).catch(this.#log);
  }

  async #work(): Promise<void> {
    while (this.#on) {
      try {
        await this.#readAll();
        if (this.#client.connected) {
          await this.#listen();
          await this.#tell().then(
            () => this.#say(''),
            (error) => this.#say(failureWords(error)),
          );
        }
      } catch (error) {
        this.#log(error);
      }
      if (this.#on) await this.#pause();
    }
  }

  /** Reads until nothing waits. Where few did, those that come next are let gather: each reading costs a transaction. */
  async #readAll(): Promise<void> {
    while (this.#on) {
      const read = await readWaiting(this.#service);
      if (read === 0) return;
      if (read < enough) await wait(gatherMs);
    }
  }

  #pause(): Promise<void> {
    return new Promise((done) => {
      const timer = setTimeout(done, lookEveryMs);
      this.#wake = () => {
        clearTimeout(timer);
        done();
      };
    });
  }

  /**
   * Asks the broker something, and waits for its answer no longer than the connection lasts: the library would wait for the
   * next one, or for ever once it is ended, and what has come would stay unread meanwhile.
   */
  #answer<T>(ask: () => Promise<T>): Promise<T> {
    return new Promise((done, fail) => {
      this.#giveUp = fail;
      if (this.#on) ask().then(done, fail);
      else fail(new Error('the connection is ended'));
    });
  }

  /** Brings what the broker gives to what the sites listen to. */
  async #listen(): Promise<void> {
    const { pool } = this.#service;
    for (const { filter, gone: unwanted, withKept } of await wantedFilters(pool)) {
      if (unwanted) {
        await this.#answer(() => this.#client.unsubscribeAsync(filter));
        this.#given.delete(filter);
        await forgetFilter(pool, filter);
      } else if (this.#given.get(filter) !== withKept) {
        const refusal = await this.#subscribe(filter, withKept);
        this.#given.set(filter, withKept);
        await noteRefusal(pool, filter, refusal);
      }
    }
  }

  /** @returns why the broker does not give it; empty where it does */
  async #subscribe(filter: string, withKept: boolean): Promise<string> {
    try {
      const rh = withKept ? keptGiven : keptLeft;
      await this.#answer(() => this.#client.subscribeAsync(filter, { qos, rh }));
      return '';
    } catch (error) {
      if (!this.#on || !this.#client.connected) throw error;
      return `The broker does not give it: ${failureWords(error)}.`;
    }
  }

  /** Keeps on the page why alerts do not go out, while all else does. */
  async #say(failure: string): Promise<void> {
    if (failure === this.#unsaid || !this.#client.connected) return;
    this.#unsaid = failure;
    const words = failure === '' ? '' : `alerts do not go out, the broker says: ${failure}`;
    await noteAlertFailure(this.#service.pool, words);
  }

  async #tell(): Promise<void> {
    const { pool, now } = this.#service;
    for (const one of await alertsToTell(pool, now())) {
      const { state, id } = one.alert;
      const topic = `${this.#settings.prefix}/alerts/${id}`;
      const properties = {
        contentType: 'application/json',
        ...(state === 'cleared' ? { messageExpiryInterval: endedStaysS } : {}),
      };
      await this.#answer(() =>
        this.#client.publishAsync(topic, JSON.stringify(one.alert), { qos, retain: true, properties }),
      );
      await noteTold(pool, one);
    }
  }

  /** Ends the connection as one that is lost: whoever listens to our status learns of it unless another takes over. */
  async end(): Promise<void> {
    this.#on = false;
    this.#wake();
    const client = this.#client;
    const ended = client.connected ? client.endAsync(false, { reasonCode: withWill }) : client.endAsync(true);
    await Promise.race([ended, wait(endingMs)]).catch(() => undefined);
    client.end(true);
    client.stream?.destroy();
    this.#giveUp(new Error('the connection is ended'));
    await this.#run;
  }
}
