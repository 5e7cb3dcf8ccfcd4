// Vitest's global set-up: one PostgreSQL for the run, with one migrated template that every test file clones.
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import pg from 'pg';
import type { TestProject } from 'vitest/node';
import { startEmbedded } from '../../src/platform/database/embedded.ts';
import { migrate } from '../../src/platform/database/migrations.ts';

declare module 'vitest' {
  interface ProvidedContext {
    /** Connection string of the migrated template database. */
    templateUrl: string;
  }
}

interface Server {
  url: string;
  stop(): Promise<void>;
}

async function dockerAnswers(): Promise<boolean> {
  try {
    const { getContainerRuntimeClient } = await import('testcontainers');
    await getContainerRuntimeClient();
    return true;
  } catch {
    return false;
  }
}

async function container(): Promise<Server> {
  const { PostgreSqlContainer } = await import('@testcontainers/postgresql');
  const image = process.env.EVENWATER_TEST_POSTGRES_IMAGE ?? 'postgres:18';
  const open = { POSTGRES_HOST_AUTH_METHOD: 'trust' };
  const started = await new PostgreSqlContainer(image).withEnvironment(open).start();
  return { url: started.getConnectionUri(), stop: async () => void (await started.stop()) };
}

/** No password is asked for any more: each connection would be hashed for some milliseconds, and there are thousands. */
async function trustAll(dir: string, url: string): Promise<void> {
  await writeFile(
    join(dir, 'pg', 'pg_hba.conf'),
    'host all all 127.0.0.1/32 trust\nhost all all ::1/128 trust\n',
  );
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  await client.query('SELECT pg_reload_conf()').finally(() => client.end());
}

async function embedded(): Promise<Server> {
  const dir = await mkdtemp(join(tmpdir(), 'evenwater-test-'));
  const server = await startEmbedded(dir, { durable: false });
  await trustAll(dir, server.url);
  const stop = async () => {
    await server.stop();
    await rm(dir, { recursive: true, force: true });
  };
  return { url: server.url, stop };
}

async function open(): Promise<{ server: Server; kind: string }> {
  if (await dockerAnswers()) {
    try {
      return { server: await container(), kind: 'a postgres container' };
    } catch (error) {
      const reason = error instanceof Error ? error.message : String(error);
      return { server: await embedded(), kind: `the embedded server (Docker answers, but: ${reason})` };
    }
  }
  return { server: await embedded(), kind: 'the embedded server (Docker does not answer)' };
}

export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const { server, kind } = await open();
  process.stdout.write(`Integration tests run on ${kind}.\n`);
  const client = new pg.Client({ connectionString: server.url });
  await client.connect();
  await client.query('CREATE DATABASE template_evenwater');
  await client.end();
  const templateUrl = server.url.replace(/\/[^/]*$/, '/template_evenwater');
  await migrate(templateUrl);
  project.provide('templateUrl', templateUrl);
  return () => server.stop();
}
