import { durationText } from '../../server/calc/quantity.ts';
import type { EntryShown } from '../../server/lots/schemas.ts';
import { type Html, html } from '../html.ts';
import { placementInLog } from './placements.ts';

/** A recording in the log, played where it stands. */
const voiceInLog = (voice: { voiceId: number; durationMs: number | null }): Html =>
  html`<span class="voice-played"><audio controls preload="none" src="/voices/${voice.voiceId}"></audio>${
    voice.durationMs !== null &&
    html` <span class="fine">${durationText({ durationS: Math.max(1, Math.round(voice.durationMs / 1000)) })}</span>`
  } <a class="fine" href="/voices/${voice.voiceId}" download>Save the file</a></span>`;

const said = (e: EntryShown): Html =>
  html`${e.words}${e.placement && placementInLog(e.placement)}${e.voice && voiceInLog(e.voice)}`;

/** What an entry of the log says, with what was drawn or spoken; struck out with the reason where it was voided. */
export const entryWords = (e: EntryShown): Html =>
  html`${e.voidedReason !== null ? html`<s>${said(e)}</s> <b>void: ${e.voidedReason}</b>` : said(e)}${
    e.stepName && e.kind !== 'stepStart' && e.kind !== 'stepEnd' && html` <span class="fine">(${e.stepName})</span>`
  }${e.told && html`<br><span class="fine">${e.told}</span>`}`;
