import { execFile } from 'node:child_process';
import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import { promisify } from 'node:util';

const run = promisify(execFile);

/** How to run the server's programs as somebody PostgreSQL accepts (it refuses root). */
export interface Runner {
  prefix: string[];
  uid: number | undefined;
  gid: number | undefined;
}

/** A user of the machine, by numbers. */
export interface User {
  uid: number;
  gid: number;
}

async function userNamed(name: string): Promise<User> {
  const id = async (flag: '-u' | '-g') => Number((await run('id', [flag, name])).stdout.trim());
  return { uid: await id('-u'), gid: await id('-g') };
}

/** The user `postgres`, made where it is missing; `nobody` where no user can be made. */
async function serverUser(): Promise<User> {
  try {
    return await userNamed('postgres');
  } catch {
    return run('useradd', ['--system', '--user-group', '--no-create-home', 'postgres'])
      .then(() => userNamed('postgres'))
      .catch(() => userNamed('nobody'));
  }
}

async function ownerOf(path: string): Promise<User | null> {
  return stat(path).catch(() => null);
}

/** Runs a program as this user who may pass folders closed to others. The C library's access() counts that only with the bit. */
function passingClosedFolders({ uid, gid }: User, right: 'dac_read_search' | 'dac_override'): Runner {
  const who = [`--reuid=${uid}`, `--regid=${gid}`, '--clear-groups', '--securebits=+no_setuid_fixup'];
  const rights = [`--inh-caps=-all,+${right}`, `--ambient-caps=-all,+${right}`];
  return { prefix: ['setpriv', ...who, ...rights], uid: undefined, gid: undefined };
}

/** Whether initdb finds the programs beside it, which it looks for before it shows its settings, and the folder can be entered. */
async function reaches({ prefix, uid, gid }: Runner, initdb: string, dir: string): Promise<boolean> {
  const look = ['sh', '-c', '"$1" --show --pgdata="$2" && test -x "$2"', 'sh', initdb, dir];
  const [command, ...args] = [...prefix, ...look] as [string, ...string[]];
  const who = uid === undefined || gid === undefined ? {} : { uid, gid };
  return run(command, args, { cwd: '/', ...who }).then(
    () => true,
    () => false,
  );
}

/**
 * Who runs the server that keeps its data in `dir`, and whom root gives that folder to. Root starts it as the owner of data that are there already, else
 * as `postgres`; where that user cannot enter a folder on the way (a home closed to others), with the right to pass it.
 * @throws Error in a sentence that says what to do, where nobody PostgreSQL accepts can reach the programs or the data
 */
export async function chooseRunner(
  initdb: string,
  dir: string,
): Promise<{ runner: Runner; owner: User | null }> {
  const me = process.getuid?.();
  const owner = await ownerOf(join(dir, 'pg'));
  if (me !== 0) {
    if (owner !== null && me !== undefined && owner.uid !== me)
      throw new Error(
        `The database in ${dir} belongs to another user (number ${owner.uid}). Start Evenwater as that user or as root, or give the folder to this one (chown).`,
      );
    return { runner: { prefix: [], uid: undefined, gid: undefined }, owner: null };
  }
  const user = owner === null || owner.uid === 0 ? await serverUser() : owner;
  const choices: Runner[] = [
    { prefix: [], uid: user.uid, gid: user.gid },
    passingClosedFolders(user, 'dac_read_search'),
    passingClosedFolders(user, 'dac_override'),
  ];
  for (const choice of choices)
    if (await reaches(choice, initdb, dir)) return { runner: choice, owner: user };
  throw new Error(
    `The database does not run as root, and the user it would run as cannot enter ${initdb} or ${dir}. Put Evenwater and EVENWATER_DATA into folders that everybody may enter, such as /opt/evenwater and /var/lib/evenwater, or start Evenwater as a user that is not root.`,
  );
}
