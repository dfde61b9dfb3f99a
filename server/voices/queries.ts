import { eq } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { type VoiceRow, voices } from '../db/tables/studio.ts';

export const voiceById = (db: Db, voiceId: number): VoiceRow | undefined =>
  db.select().from(voices).where(eq(voices.id, voiceId)).get();

export const voiceBySha256 = (db: Db, sha256: string): VoiceRow | undefined =>
  db.select().from(voices).where(eq(voices.sha256, sha256)).get();

export const insertVoice = (db: Db, row: Omit<VoiceRow, 'id'>): VoiceRow =>
  db.insert(voices).values(row).returning().get();
