import { eq } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { rowById } from '../db/ready.ts';
import { type VoiceRow, voices } from '../db/tables/studio.ts';

export const voiceById = rowById(voices);

export const voiceBySha256 = (db: Db, sha256: string): VoiceRow | undefined =>
  db.select().from(voices).where(eq(voices.sha256, sha256)).get();

export const insertVoice = (db: Db, row: Omit<VoiceRow, 'id'>): VoiceRow =>
  db.insert(voices).values(row).returning().get();
