import { type Html, html } from '../html.ts';
import { type FormState, fieldError } from '../kit/field.ts';

/** The voice note's form. static/voice.js shows the recorder's button where the browser gives a microphone, and the
 *  reason where it does not; a file of the phone's own recorder goes everywhere. */
export const voiceFields = (form: FormState): Html => html`<input type="hidden" name="durationMs" value="">
  <p class="voice-recorder"><button type="button" class="big" data-record>Record a voice note</button></p>
  <p class="fine voice-insecure">Browsers give the microphone only to pages that came over https. Open the studio by
    https, or choose a recording that the phone’s own recorder made.</p>
  <p class="fine voice-unsupported">This browser cannot record. Choose a recording that another recorder made.</p>
  <div class="voice-file"><div class="field"><label for="voice">Voice note, from a file</label><input id="voice"
    type="file" name="voice" accept="audio/*" capture required>${fieldError('voice', form)}</div><button>Keep the
    voice note</button></div>`;
