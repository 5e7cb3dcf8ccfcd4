import { PrismaPg } from '@prisma/adapter-pg';
import type { Transaction } from '@prisma/driver-adapter-utils';
import { turns } from '../workers/turns.ts';

/**
 * Prisma's adapter, whose transactions send one query after the other: a transaction has one connection, Prisma asks for two
 * relations of a row at once, and the driver is to refuse a second query under way (pg 9).
 */
export class OneQueryAtATime extends PrismaPg {
  override async connect() {
    const adapter = await super.connect();
    const start = adapter.startTransaction.bind(adapter);
    adapter.startTransaction = async (isolation) => inTurn(await start(isolation));
    return adapter;
  }
}

function inTurn(tx: Transaction): Transaction {
  const next = turns(1);
  const [query, execute] = [tx.queryRaw.bind(tx), tx.executeRaw.bind(tx)];
  tx.queryRaw = (sql) => next(() => query(sql));
  tx.executeRaw = (sql) => next(() => execute(sql));
  return tx;
}
