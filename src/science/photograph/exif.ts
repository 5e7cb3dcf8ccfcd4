/** What a camera wrote about a photograph that is of use here. */
export interface CameraNotes {
  /** When it was taken by the camera's clock: "2026-11-24T07:30:00", with the camera's offset ("+01:00") where it has one. */
  takenAt: { local: string; offset: string | null } | null;
  /** The focal length as of a camera with a picture 36 mm wide, mm. */
  focal35: number | null;
}

/** Tags of Exif 3.0 (CIPA DC-008): the inner directory, the time and its offset, the focal length in 35 mm film. */
const [EXIF, TAKEN, OFFSET, FOCAL] = [0x8769, 0x9003, 0x9011, 0xa405];
const nothing: CameraNotes = { takenAt: null, focal35: null };

/** Reads the notes of a camera. What is damaged tells nothing. @param exif the block of an image file, with or without "Exif\0\0" */
export function readCameraNotes(exif: Uint8Array | undefined): CameraNotes {
  if (exif === undefined) return nothing;
  try {
    const begin = String.fromCharCode(...exif.subarray(0, 4)) === 'Exif' ? 6 : 0;
    return notesOf(new DataView(exif.buffer, exif.byteOffset + begin, exif.byteLength - begin));
  } catch (error) {
    if (error instanceof RangeError) return nothing;
    throw error;
  }
}

function notesOf(view: DataView): CameraNotes {
  const little = view.getUint16(0) === 0x4949;
  const outer = directory(view, view.getUint32(4, little), little);
  const inner = outer.get(EXIF);
  if (inner === undefined) return nothing;
  const tags = directory(view, view.getUint32(inner + 8, little), little);
  const text = (tag: number) => {
    const at = tags.get(tag);
    if (at === undefined) return null;
    const length = view.getUint32(at + 4, little);
    const start = length <= 4 ? at + 8 : view.getUint32(at + 8, little);
    const bytes = Array.from({ length: Math.min(length, 40) }, (_, i) => view.getUint8(start + i));
    return String.fromCharCode(...bytes).replace(/\0.*$/, '');
  };
  const taken = /^(\d{4}):(\d\d):(\d\d) (\d\d:\d\d:\d\d)$/.exec(text(TAKEN) ?? '');
  const offset = /^[+-]\d\d:\d\d$/.exec(text(OFFSET) ?? '')?.[0] ?? null;
  const focal = tags.get(FOCAL);
  const mm = focal === undefined ? 0 : view.getUint16(focal + 8, little);
  return {
    takenAt: taken === null ? null : { local: `${taken[1]}-${taken[2]}-${taken[3]}T${taken[4]}`, offset },
    focal35: mm > 0 ? mm : null,
  };
}

/** Where each tag of a directory lies. */
function directory(view: DataView, start: number, little: boolean): Map<number, number> {
  const count = view.getUint16(start, little);
  return new Map(
    Array.from({ length: Math.min(count, 500) }, (_, i) => {
      const at = start + 2 + 12 * i;
      return [view.getUint16(at, little), at] as const;
    }),
  );
}

/**
 * The block of a camera's notes in a JPEG (its APP1 segment, JPEG File Interchange and Exif 3.0); undefined where there is none.
 * @param file its first 64 kB suffice
 */
export function exifOfJpeg(file: Uint8Array): Uint8Array | undefined {
  const view = new DataView(file.buffer, file.byteOffset, file.byteLength);
  if (view.byteLength < 4 || view.getUint16(0) !== 0xffd8) return undefined;
  for (let at = 2; at + 10 <= view.byteLength; ) {
    const [marker, length] = [view.getUint16(at), view.getUint16(at + 2)];
    // A segment that is no segment, or the picture itself.
    if (marker < 0xffe0 || marker > 0xffef) return undefined;
    if (marker === 0xffe1 && view.getUint32(at + 4) === 0x45786966)
      return file.subarray(at + 4, at + 2 + length);
    at += 2 + length;
  }
  return undefined;
}
