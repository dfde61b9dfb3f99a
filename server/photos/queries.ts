import { eq } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { rowById } from '../db/ready.ts';
import { type PhotoRow, photos } from '../db/tables/studio.ts';
import { asRefusal } from '../errors.ts';

export const photoById = rowById(photos);

export const photoBySha256 = (db: Db, sha256: string): PhotoRow | undefined =>
  db.select().from(photos).where(eq(photos.sha256, sha256)).get();

/** Removes a picture's row; false when something still shows it. */
export const deleteUnusedPhoto = (db: Db, photoId: number): boolean => {
  try {
    return db.delete(photos).where(eq(photos.id, photoId)).run().changes === 1;
  } catch (error) {
    if (asRefusal(error)) return false;
    throw error;
  }
};

export const insertPhoto = (db: Db, row: Omit<PhotoRow, 'id'>): PhotoRow =>
  db.insert(photos).values(row).returning().get();
