import { durationText } from '../../server/calc/quantity.ts';
import { type Html, html } from '../html.ts';

/** A recording in the log, played where it stands. */
export const voiceInLog = (p: { voiceId: number; mediaType: string; durationMs: number | null }): Html =>
  html`<span class="voice-played"><audio controls preload="none" src="/voices/${p.voiceId}"></audio>${p.durationMs !== null && html` <span class="fine">${durationText({ durationS: Math.max(1, Math.round(p.durationMs / 1000)) })}</span>`} <a class="fine" href="/voices/${p.voiceId}" download>Save the file</a></span>`;
