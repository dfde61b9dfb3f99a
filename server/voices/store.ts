import { createHash } from 'node:crypto';
import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import type { VoiceRow } from '../db/tables/studio.ts';
import type { Actor, Deps } from '../deps.ts';
import { Refusal } from '../errors.ts';
import { writeWhole } from '../photos/store.ts';
import { insertVoice, voiceBySha256 } from './queries.ts';

export type SoundType = VoiceRow['mediaType'];

/** A note at the bench, not a lecture: five minutes of speech at 128 kbit/s are 4.8 MB. */
export const MAX_VOICE_BYTES = 8_000_000;

export const MAX_VOICE_MS = 5 * 60_000;

/** What a recorder says may differ a little from what it made. */
const SLACK_MS = 2000;

const ENDING: Record<SoundType, string> = {
  'audio/webm': 'webm',
  'audio/ogg': 'ogg',
  'audio/mp4': 'm4a',
  'audio/wav': 'wav',
};

const ascii = (content: Buffer, from: number, to: number): string => content.subarray(from, to).toString('latin1');

/** The kind of a recording by its first bytes, never by its name or what the sender calls it; undefined when it is none
 *  of the four kinds. WebM: RFC 8794 and the WebM container guidelines (EBML with DocType "webm"); Ogg: RFC 3533; MP4: ISO
 *  14496-12 (file type box); WAV: the RIFF form of IBM and Microsoft, 1991. */
export function soundTypeOf(content: Buffer): SoundType | undefined {
  if (content.length < 16) return undefined;
  if (content.readUInt32BE(0) === 0x1a45dfa3 && ascii(content, 4, 64).includes('webm')) return 'audio/webm';
  if (ascii(content, 0, 4) === 'OggS') return 'audio/ogg';
  if (ascii(content, 4, 8) === 'ftyp') return 'audio/mp4';
  if (ascii(content, 0, 4) === 'RIFF' && ascii(content, 8, 12) === 'WAVE') return 'audio/wav';
  return undefined;
}

export const voiceFile = (dataDir: string, voice: Pick<VoiceRow, 'sha256' | 'mediaType'>): string =>
  join(dataDir, 'voices', voice.sha256.slice(0, 2), `${voice.sha256}.${ENDING[voice.mediaType]}`);

const isWhole = (file: string, byteSize: number): Promise<boolean> =>
  stat(file).then(
    (found) => found.size === byteSize,
    () => false,
  );

/** Milliseconds as a recorder says them; null when it says nothing that can be one. */
export const durationMsOf = (text: string | undefined): number | null =>
  text !== undefined && /^\d{1,9}$/.test(text) && Number(text) > 0 ? Number(text) : null;

/** Keeps a recording as it came, under DATA_DIR/voices by the SHA-256 of its content. The same recording sent again is the
 *  same row. Throws Refusal notASound or tooLarge, with words for the field `voice`. */
export async function storeVoice(
  deps: Deps,
  input: { content: Buffer; durationMs: number | null },
  by: Pick<Actor, 'personId'>,
): Promise<VoiceRow> {
  const { content, durationMs } = input;
  const refuse = (code: 'notASound' | 'tooLarge', words: string): Refusal => new Refusal(code, words, { voice: words });
  if (content.length > MAX_VOICE_BYTES)
    throw refuse('tooLarge', `A voice note has at most ${MAX_VOICE_BYTES / 1_000_000} MB.`);
  if (durationMs !== null && durationMs > MAX_VOICE_MS + SLACK_MS)
    throw refuse('tooLarge', `A voice note lasts at most ${MAX_VOICE_MS / 60_000} minutes.`);
  const mediaType = soundTypeOf(content);
  if (!mediaType)
    throw refuse('notASound', 'That is not a sound recording that can be kept. Send WebM, Ogg, M4A or WAV.');
  const sha256 = createHash('sha256').update(content).digest('hex');
  const file = voiceFile(deps.config.dataDir, { sha256, mediaType });
  if (!(await isWhole(file, content.length))) await writeWhole(file, content);
  return (
    voiceBySha256(deps.db, sha256) ??
    insertVoice(deps.db, {
      sha256,
      mediaType,
      byteSize: content.length,
      durationMs: durationMs !== null && durationMs > 0 ? Math.round(durationMs) : null,
      storedAt: deps.now(),
      storedBy: by.personId,
    })
  );
}
