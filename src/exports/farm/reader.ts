import { createHash } from 'node:crypto';
import { open } from 'node:fs/promises';
import type { Readable } from 'node:stream';
import { crc32 } from 'node:zlib';
import { type Entry, openPromise, type ZipFile } from 'yauzl';
import { farmFormat, knownName, type Manifest, manifestName, manifestSchema } from './manifest.schema.ts';

/** An archive of a farm cannot be used, in a sentence for whoever wanted to. */
export class FarmFault extends Error {}

const cutOff = 'The file ends too early: it was not copied or written to its end. Make or copy it again.';
const foreign =
  'This is not the archive of a farm. Make one with "Download the whole farm" or npm run export.';
const damaged = (why: string) => `The file is damaged (${why}). Make or copy it again.`;

/** Own choices. Rows as JSON shrink to a tenth at the most; what unpacks to more than this is there to fill a disk. */
const mostTimes = 200;
const freeBytes = 1024 * 1024;
const mostFiles = 2_000_000;
const largestManifest = 256 * 1024 * 1024;

/** An archive of a farm, opened and looked through, its content not read yet. */
export interface FarmFile {
  manifest: Manifest;
  /** The content of one of its files. */
  content(name: string): Promise<Readable>;
  /** The names of its files in a folder, without those in folders below it. */
  inFolder(folder: string): string[];
  close(): void;
}

async function firstBytes(path: string): Promise<Buffer> {
  const file = await open(path).catch((error: NodeJS.ErrnoException) => {
    throw new FarmFault(
      error.code === 'ENOENT' ? `There is no file ${path}.` : `${path} cannot be read: ${error.message}`,
    );
  });
  try {
    const { buffer, bytesRead } = await file.read(Buffer.alloc(4), 0, 4, 0);
    return buffer.subarray(0, bytesRead);
  } finally {
    await file.close();
  }
}

async function openZip(path: string): Promise<ZipFile> {
  const first = await firstBytes(path);
  if (first[0] === 0x1f && first[1] === 0x8b)
    throw new FarmFault(
      'This is a backup, not the archive of a farm. Bring it back with: npm run restore -- FILE',
    );
  if (first.toString('latin1', 0, 2) !== 'PK') throw new FarmFault(foreign);
  return openPromise(path, { autoClose: false, lazyEntries: true }).catch((error: Error) => {
    throw new FarmFault(/end of central directory/i.test(error.message) ? cutOff : damaged(error.message));
  });
}

/** @throws FarmFault where a file of the archive is none that a farm has, or unpacks to more than it can */
function checkEntry(entry: Entry): void {
  const { fileName, compressedSize, uncompressedSize } = entry;
  if (!knownName.test(fileName))
    throw new FarmFault(
      `The archive holds a file ${JSON.stringify(fileName.slice(0, 100))} that belongs to no farm. Nothing was taken from it.`,
    );
  if (entry.isEncrypted()) throw new FarmFault('The archive is locked with a password. Unlock it first.');
  if (uncompressedSize > freeBytes + compressedSize * mostTimes)
    throw new FarmFault(
      `${fileName} would unpack to ${Math.round(uncompressedSize / 1e6)} MB from ${Math.ceil(compressedSize / 1e3)} kB, which no farm does. Nothing was taken from it.`,
    );
}

async function entriesOf(zip: ZipFile): Promise<Map<string, Entry>> {
  if (zip.entryCount > mostFiles) throw new FarmFault('The archive holds more files than any farm has.');
  const entries = new Map<string, Entry>();
  let packed = 0;
  try {
    for await (const entry of zip.eachEntry()) {
      checkEntry(entry);
      if (entries.has(entry.fileName))
        throw new FarmFault(`The archive holds ${entry.fileName} twice. Nothing was taken from it.`);
      entries.set(entry.fileName, entry);
      packed += entry.compressedSize;
    }
  } catch (error) {
    if (error instanceof FarmFault) throw error;
    const { message } = error as Error;
    throw new FarmFault(
      /relative path|absolute path|invalid characters/i.test(message)
        ? 'The archive holds a file whose name leads out of it. Nothing was taken from it.'
        : damaged(message),
    );
  }
  // Files that lie over each other unpack to more than there is.
  if (packed > zip.fileSize)
    throw new FarmFault('The files in the archive lie over each other. Nothing was taken.');
  return entries;
}

async function bytesOf(content: Readable): Promise<Buffer> {
  const parts: Buffer[] = [];
  for await (const chunk of content as AsyncIterable<Buffer>) parts.push(chunk);
  return Buffer.concat(parts);
}

async function manifestOf(zip: ZipFile, entry: Entry | undefined): Promise<Manifest> {
  if (entry === undefined || entry.uncompressedSize > largestManifest) throw new FarmFault(foreign);
  const bytes = await bytesOf(await zip.openReadStreamPromise(entry)).catch((error: Error) => {
    throw new FarmFault(damaged(error.message));
  });
  if (crc32(bytes) !== entry.crc32) throw new FarmFault(damaged(manifestName));
  let json: unknown;
  try {
    json = JSON.parse(bytes.toString('utf8'));
  } catch {
    throw new FarmFault(foreign);
  }
  const { format, service } = (json ?? {}) as { format?: unknown; service?: unknown };
  if (service === 'Evenwater' && typeof format === 'number' && format > farmFormat)
    throw new FarmFault(
      'This archive was made by a newer Evenwater. Bring this installation to that version first.',
    );
  const parsed = manifestSchema.safeParse(json);
  if (!parsed.success) throw new FarmFault(foreign);
  return parsed.data;
}

/** @throws FarmFault where the archive does not hold what its manifest says */
function checkNames({ files, tables }: Manifest, entries: ReadonlyMap<string, Entry>): void {
  for (const { name, bytes } of files) {
    const entry = entries.get(name);
    if (entry === undefined)
      throw new FarmFault(`The archive lacks ${name}, which it says that it holds. Make or copy it again.`);
    if (entry.uncompressedSize !== bytes) throw new FarmFault(damaged(`${name} has another length`));
  }
  const told = new Set([manifestName, ...files.map(({ name }) => name)]);
  const more = [...entries.keys()].find((name) => !told.has(name));
  if (more !== undefined)
    throw new FarmFault(`The archive holds ${more}, of which its manifest says nothing. Nothing was taken.`);
  const missing = tables.find(({ name }) => !told.has(`data/${name}.jsonl`));
  if (missing !== undefined) throw new FarmFault(`The archive lacks the rows of ${missing.name}.`);
}

/** Opens the archive of a farm and looks through it. @throws FarmFault */
export async function openFarm(path: string): Promise<FarmFile> {
  const zip = await openZip(path);
  try {
    const entries = await entriesOf(zip);
    const manifest = await manifestOf(zip, entries.get(manifestName));
    checkNames(manifest, entries);
    const content = async (name: string) => {
      const entry = entries.get(name);
      if (entry === undefined) throw new FarmFault(`The archive lacks ${name}.`);
      return zip.openReadStreamPromise(entry);
    };
    const inFolder = (folder: string) =>
      [...entries.keys()].filter((name) => name.slice(0, name.lastIndexOf('/')) === folder);
    return { manifest, content, inFolder, close: () => zip.close() };
  } catch (error) {
    zip.close();
    throw error;
  }
}

/** Reads every file of an archive through and compares it with the manifest. @throws FarmFault naming the file */
export async function checkFarm({ manifest, content }: FarmFile): Promise<void> {
  for (const { name, sha256 } of manifest.files) {
    const hash = createHash('sha256');
    try {
      for await (const chunk of (await content(name)) as AsyncIterable<Buffer>) hash.update(chunk);
    } catch (error) {
      if (error instanceof FarmFault) throw error;
      throw new FarmFault(damaged(`${name}: ${(error as Error).message}`));
    }
    if (hash.digest('hex') !== sha256) throw new FarmFault(damaged(`${name} is not what was written`));
  }
}
