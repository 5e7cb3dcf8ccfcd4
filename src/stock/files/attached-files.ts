import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { makePhoto } from '../lots/photo-image.ts';

// Permits, invoices and certificates, kept with what they are about. A picture is encoded again as photos are; a PDF is kept
// as it came, and only ever handed out to be saved.

/** What files can be attached to. */
export const attachables = ['lot', 'system', 'equipment', 'sales_order', 'delivery'] as const;
export type Attachable = (typeof attachables)[number];

/** The most bytes of one file, as it is sent and as it is kept (own choice; the database holds to it). */
export const largestFile = 10 * 1024 * 1024;

/** What a file is about, by name and page. */
export interface FileHome {
  noun: Attachable;
  id: string;
  name: string;
  href: string;
}

/** @throws Refusal 404 */
export async function findHome(db: Reader, noun: Attachable, id: string): Promise<FileHome> {
  const found = await homes[noun](db, id);
  if (found === null) throw notFound('This record');
  return { noun, id, ...found };
}

const homes: Record<Attachable, (db: Reader, id: string) => Promise<{ name: string; href: string } | null>> =
  {
    async lot(db, id) {
      const lot = await db.lot.findUnique({ where: { id }, select: { code: true } });
      return lot === null ? null : { name: lot.code, href: `/stock/${lot.code}` };
    },
    async system(db, id) {
      const system = await db.system.findUnique({ where: { id }, select: { name: true } });
      return system === null ? null : { name: system.name, href: `/water/systems/${id}` };
    },
    async equipment(db, id) {
      const device = await db.equipment.findUnique({ where: { id }, select: { name: true } });
      return device === null ? null : { name: device.name, href: `/farm/equipment/${id}` };
    },
    async sales_order(db, id) {
      const order = await db.salesOrder.findUnique({ where: { id }, select: { number: true } });
      return order === null ? null : { name: `order ${order.number}`, href: `/stock/orders/${id}` };
    },
    async delivery(db, id) {
      const delivery = await db.delivery.findUnique({ where: { id }, select: { supplier: true } });
      if (delivery === null) return null;
      return { name: `the delivery from ${delivery.supplier}`, href: `/stock/deliveries/${id}` };
    },
  };

const column = {
  lot: 'lotId',
  system: 'systemId',
  equipment: 'equipmentId',
  sales_order: 'salesOrderId',
  delivery: 'deliveryId',
} as const;

/** The files of a record, newest first, without their content; removed ones too. */
export function filesOf(db: Reader, noun: Attachable, id: string) {
  return db.attachedFile.findMany({
    where: { [column[noun]]: id },
    omit: { content: true },
    orderBy: { createdAt: 'desc' },
  });
}

/** Pictures that one form takes at most, and the bytes of all of them (own choice). */
export const mostPictures = 8;
export const largestPictures = 4 * largestFile;

/** The pictures among a record's files, the oldest first, as its page shows them. */
export async function picturesOf(
  db: Reader,
  noun: Attachable,
  id: string,
): Promise<{ id: string; what: string; createdAt: Date }[]> {
  return db.attachedFile.findMany({
    where: { [column[noun]]: id, kind: 'image/jpeg', voidedAt: null },
    select: { id: true, what: true, createdAt: true },
    orderBy: [{ createdAt: 'asc' }, { id: 'asc' }],
  });
}

/**
 * Attaches the pictures that came with a form about something else, such as how a box arrived.
 * @throws Refusal 422 beside "photos" where one is no picture
 */
export async function attachPictures(
  work: Work,
  home: Pick<FileHome, 'noun' | 'id'>,
  pictures: readonly Pick<NewFile, 'fileName' | 'content'>[],
  what: string,
): Promise<void> {
  for (const { fileName, content } of pictures) {
    if (isPdf(content))
      throw new Refusal(`${fileName} is no picture. Add it under Files.`, { field: 'photos' });
    await attachFile(work, home, { fileName, content, what }).catch((error: unknown) => {
      if (!(error instanceof Refusal)) throw error;
      throw new Refusal(
        `${fileName} is not a picture the service can read. Choose a JPEG, PNG or WebP file.`,
        {
          field: 'photos',
        },
      );
    });
  }
}

/** A file as it is sent. */
export interface NewFile {
  fileName: string;
  content: Uint8Array;
  what: string;
}

const isPdf = (content: Uint8Array) => Buffer.from(content.subarray(0, 5)).toString('latin1') === '%PDF-';

/** What is kept of a sent file. @throws Refusal when it is neither a PDF nor a picture */
async function toKeep(content: Uint8Array): Promise<{ kind: string; content: Uint8Array<ArrayBuffer> }> {
  if (isPdf(content)) return { kind: 'application/pdf', content: new Uint8Array(content) };
  try {
    const { image } = await makePhoto(content);
    return { kind: 'image/jpeg', content: new Uint8Array(image) };
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    throw new Refusal('Choose a PDF, a JPEG or a PNG file. This one is none of them, or is damaged.', {
      field: 'file',
    });
  }
}

/** Attaches a file. @throws Refusal 404, 422 */
export async function attachFile(
  work: Work,
  { noun, id }: Pick<FileHome, 'noun' | 'id'>,
  { fileName, content, what }: NewFile,
): Promise<void> {
  const kept = await toKeep(content);
  const name = kept.kind === 'image/jpeg' ? fileName.replace(/\.\w{1,5}$/, '').concat('.jpg') : fileName;
  await work.tx.attachedFile.create({
    data: {
      ...{ [column[noun]]: id, name, what, ...kept, bytes: kept.content.length },
      ...{ accountId: work.accountId, createdAt: work.now },
    },
  });
  work.record('file.attached', { type: noun, id }, { name, what });
}

/** A file to hand out. @throws Refusal 404, also once it is removed */
export async function fileContent(
  db: Reader,
  id: string,
): Promise<{ name: string; kind: string; content: Uint8Array }> {
  const file = await db.attachedFile.findUnique({
    where: { id },
    select: { name: true, kind: true, content: true },
  });
  if (file === null || file.content === null) throw notFound('This file');
  return { ...file, content: file.content };
}

/** A file and what it is about, without its content. @throws Refusal 404 */
export async function findFile(db: Reader, id: string) {
  const file = await db.attachedFile.findUnique({ where: { id }, omit: { content: true } });
  if (file === null) throw notFound('This file');
  const noun = attachables.find((one) => file[column[one]] !== null) ?? 'lot';
  return { ...file, noun, homeId: file[column[noun]] ?? '' };
}

/** Removes a file: its content goes, its name stays in the list with the reason. @throws Refusal 404, 409 */
export async function removeFile(
  work: Work,
  id: string,
  reason: string,
): Promise<Pick<FileHome, 'noun' | 'id'>> {
  const { noun, homeId, name } = await findFile(work.tx, id);
  const data = { voidedAt: work.now, voidReason: reason, content: null };
  const { count } = await work.tx.attachedFile.updateMany({ where: { id, voidedAt: null }, data });
  if (count === 0) throw new Refusal('This file is removed already.', { status: 409 });
  work.record('file.removed', { type: noun, id: homeId }, { name, reason });
  return { noun, id: homeId };
}
