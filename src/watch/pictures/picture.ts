import type { Severity } from '../../generated/prisma/enums.ts';

/** A drawing for wide and for narrow pages, and the sentence that says what it shows. */
export interface Drawing {
  /** Stands above it; missing where it is drawn alone. */
  name?: string;
  wide: string;
  narrow: string;
  says: string;
}

/** A photograph of a lot. */
export interface PicturePhoto {
  id: string;
  takenAt: Date;
  note: string;
}

/** What an alert is about, drawn; the same as a table for who reads it aloud or on paper. */
export interface AlertPicture {
  drawings: Drawing[];
  /** What the marks stand for, with how many there are. */
  legend: { severity: Severity | 'other'; text: string }[];
  /** The first and the last photograph of a lot; both empty where there is none. */
  photos: { code: string; then: PicturePhoto | null; last: PicturePhoto | null } | null;
  table: { title: string; head: string[]; rows: { text: string; href: string }[][] } | null;
}

/** Where and when a picture is looked at. */
export interface Clock {
  timeZone: string;
  now: Date;
}

export const noPicture: AlertPicture = { drawings: [], legend: [], photos: null, table: null };

/** Widths of drawings: beside the action on a desk, and on a phone. */
export const wideWidth = 720;
export const narrowWidth = 358;
