// npm run password -- ADDRESS     prints a link that sets a new password, for whoever has the machine

import { change } from '../platform/change.ts';
import { type Config, readConfig } from '../platform/config.ts';
import { connect, onDatabase } from '../platform/database.ts';
import { linkBase } from '../platform/link-base.ts';
import { makeLink } from './links.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);

/** A new link is no fact about any water: nothing is evaluated after it. */
const noJobs = { send: () => Promise.reject(new Error('a link has no work to follow')) };

/** Makes the link as the one of a letter is made, with its line in the journal. */
async function passwordLink(url: string, address: string): Promise<string> {
  const { db, close } = connect(url, 2);
  const service = { db, jobs: noJobs, now: () => new Date() };
  try {
    return await change(service, { accountId: null }, async (work) => {
      const account = await work.tx.account.findUnique({ where: { email: address.toLowerCase() } });
      if (account === null) throw new Error(`No account has the address ${address}.`);
      if (account.disabledAt !== null)
        throw new Error(`${account.name} is switched off. An owner switches the account on, under People.`);
      const from = 'the command on the machine';
      work.record('account.link_made', { type: 'account', id: account.id }, { from });
      return makeLink(work.tx, account.id, null, work.now);
    });
  } finally {
    await close();
  }
}

async function run(config: Config, [address]: string[]): Promise<void> {
  if (address === undefined) throw new Error('Name the address: npm run password -- name@example.org');
  const token = await onDatabase(config, say, (url) => passwordLink(url, address));
  say('Open this link and enter a new password. It works once, for an hour, while Evenwater runs:');
  say(`${linkBase(config)}/password/${token}`);
  if (config.PUBLIC_URL === undefined)
    say('Is Evenwater at another address or port? Put that in the place of the first part.');
}

try {
  await run(readConfig({ LOG_LEVEL: 'warn', ...process.env }), process.argv.slice(2));
} catch (error) {
  process.stderr.write(`${error instanceof Error ? error.message : String(error)}\n`);
  process.exit(1);
}
