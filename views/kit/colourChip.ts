import { type Html, html } from '../html.ts';

/** A patch of colour. Painted with SVG fill, since the content policy refuses inline styles. hex is #rrggbb from our
 *  own conversion or undefined where no colour is known (hatched). `bands` paints variegated goods. */
export const colourChip = (props: {
  hex: string | null;
  label: string;
  size?: 'small' | 'tile' | 'large';
  bands?: readonly { hex: string; share: number }[];
}): Html => {
  const size = props.size ?? 'small';
  if (props.bands && props.bands.length > 1) {
    let x = 0;
    const total = props.bands.reduce((sum, band) => sum + band.share, 0) || 1;
    return html`<svg class="chip chip-${size}" viewBox="0 0 100 100" preserveAspectRatio="none" role="img"
      aria-label="${props.label}">${props.bands.map((band) => {
        const width = (100 * band.share) / total;
        const rect = html`<rect x="${x}" y="0" width="${width + 0.3}" height="100" fill="${band.hex}"/>`;
        x += width;
        return rect;
      })}</svg>`;
  }
  return props.hex
    ? html`<svg class="chip chip-${size}" viewBox="0 0 100 100" preserveAspectRatio="none" role="img"
      aria-label="${props.label}"><rect width="100" height="100" fill="${props.hex}"/></svg>`
    : html`<svg class="chip chip-${size} chip-unknown" viewBox="0 0 100 100" preserveAspectRatio="none" role="img"
      aria-label="${props.label}: colour not read yet"><path d="M0 100L100 0M0 50L50 0M50 100L100 50" /></svg>`;
};
