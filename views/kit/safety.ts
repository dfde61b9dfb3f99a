import { type Html, html } from '../html.ts';
import { type FormState, field, textArea } from './field.ts';

/** Only http and https become a link, whatever way the address came into the database. */
const isWebAddress = (url: string): boolean => /^https?:\/\/[^\s"<>\\]+$/i.test(url) && URL.canParse(url);

const POWDER =
  'Weigh powder in still air with a fitted respirator, gloves and sleeves; move it slowly and over short distances. ';

/** What the safety data sheet says, where it is, and the caution of the act. It states no limit of its own: the sheet
 *  decides. Sources of the caution on powder: UK HSE, Dyes and dyeing; NIOSH Hazard Controls HC13,
 *  DHHS 97-107, 1997. */
export const safety = (props: { hazardCodes: string; sdsUrl: string; powder: boolean }): Html => {
  const codes = props.hazardCodes.split(/[\s,;]+/).filter(Boolean);
  return html`<section class="notice warn safety" aria-label="Safety"><div class="caution"><div>
  ${
    codes.length > 0
      ? html`<p><b>On its safety data sheet:</b> <span class="codes">${codes.map(
          (code) => html`<span class="code-tag">${code}</span> `,
        )}</span></p>`
      : html`<p><b>No hazard codes noted.</b> That does not mean none: read the sheet and type them in.</p>`
  }
  <p>${props.powder && POWDER}The safety data sheet of the product in hand decides.</p>
  ${
    props.sdsUrl === ''
      ? html`<p class="fine">No link to the sheet yet.</p>`
      : isWebAddress(props.sdsUrl)
        ? html`<p><a href="${props.sdsUrl}" rel="noopener noreferrer external" target="_blank">Open the safety data
          sheet</a> <span class="fine">(${new URL(props.sdsUrl).host}, in a new tab)</span></p>`
        : html`<p class="fine">Sheet: ${props.sdsUrl}</p>`
  }</div></div></section>`;
};

/** What the form of a product asks of its safety data sheet, and its note. */
export const safetyFields = (form: FormState, codes: string): Html =>
  html`<fieldset class="panel"><legend>Safety</legend><div class="grid">
    ${field({
      name: 'hazardCodes',
      label: 'Hazard codes',
      form,
      placeholder: codes,
      hint: 'As printed on the safety data sheet.',
    })}
    ${field({
      name: 'sdsUrl',
      label: 'Address of the safety data sheet',
      form,
      inputmode: 'text',
      placeholder: 'https://',
      size: 'wide',
    })}
    ${textArea({ name: 'note', label: 'Note', form, rows: 3 })}
  </div></fieldset>`;
