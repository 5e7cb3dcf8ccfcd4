import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { PrismaPg } from '@prisma/adapter-pg';
import { bindMigrationAwareSqlAdapterFactory } from '@prisma/driver-adapter-utils';
import * as glue from '@prisma/schema-engine-wasm/schema_engine_bg';
import pg from 'pg';
import { leaveBrokenOut } from './connection.ts';

/** What this project uses of Prisma's schema engine. */
export interface SchemaEngine {
  applyMigrations(input: object): Promise<{ appliedMigrationNames: string[] }>;
  diff(input: object): Promise<{ exitCode: number; stdout: string | null }>;
}

/**
 * Written by a migration in its own transaction: it was applied, though the row that says so may never have been
 * finished (the process was killed).
 */
export const appliedMark = 'applied';

/** Held by a migration while it runs: the server goes on with it though the process that sent it was killed. */
export const scriptLock = 7_402_712;

const begin = `SELECT pg_advisory_xact_lock(${scriptLock});
`;
const mark = `;
UPDATE _prisma_migrations SET logs = '${appliedMark}' WHERE finished_at IS NULL AND rolled_back_at IS NULL`;

/**
 * The adapter cuts scripts at every semicolon, function bodies included; a script goes to the server whole, which makes
 * it one transaction.
 */
class WholeScripts extends PrismaPg {
  readonly #pool: pg.Pool;

  constructor(pool: pg.Pool) {
    super(pool);
    this.#pool = pool;
  }

  override async connect() {
    const adapter = await super.connect();
    adapter.executeScript = async (script) => {
      const { rows } = await this.#pool.query(
        "SELECT to_regclass('_prisma_migrations') IS NOT NULL AS there",
      );
      await this.#pool.query(rows[0].there ? `${begin}${script}${mark}` : script);
    };
    return adapter;
  }
}

let loaded: Promise<void> | undefined;

async function instantiate(): Promise<void> {
  const file = createRequire(import.meta.url).resolve('@prisma/schema-engine-wasm/schema_engine_bg');
  const bytes = await readFile(file.replace(/schema_engine_bg\.js$/, 'schema_engine_bg.wasm'));
  const { instance } = await WebAssembly.instantiate(bytes as BufferSource, {
    './schema_engine_bg.js': glue as unknown as WebAssembly.ModuleImports,
  });
  const module = glue as unknown as { __wbg_set_wasm(exports: unknown): void };
  module.__wbg_set_wasm(instance.exports);
  (instance.exports.__wbindgen_start as () => void)();
}

/**
 * Works with Prisma's own schema engine (as WASM, no binary to fetch) on one database, so that `_prisma_migrations`
 * stays interchangeable with `prisma migrate deploy`. The connection is closed afterwards.
 */
export async function withSchemaEngine<T>(
  connectionString: string,
  schema: string,
  work: (engine: SchemaEngine) => Promise<T>,
): Promise<T> {
  loaded ??= instantiate();
  await loaded;
  const pool = leaveBrokenOut(new pg.Pool({ connectionString, max: 2 }));
  try {
    const module = glue as unknown as {
      SchemaEngine: {
        new: (options: object, log: (line: string) => void, adapter: unknown) => Promise<SchemaEngine>;
      };
    };
    const adapter = bindMigrationAwareSqlAdapterFactory(new WholeScripts(pool));
    return await work(
      await module.SchemaEngine.new({ datamodels: [['schema.prisma', schema]] }, () => undefined, adapter),
    );
  } finally {
    await pool.end();
  }
}
