/* What stands behind a ±, in words: why it is as wide as it is, and what would narrow it. */

export interface Width {
  deltaE90: number;
  /** The same after one trial of the recipe was dyed and read. */
  deltaE90AfterTrial: number;
  /** Codes of the dyes that are paler than their palest swatch, or deeper than their deepest. */
  paler: readonly string[];
  deeper: readonly string[];
}

/** Why the ± is wider than elsewhere; empty where nothing is beyond the swatches. A rule of our own over the model. */
export function whyWideInWords({ paler, deeper }: Pick<Width, 'paler' | 'deeper'>): string {
  const words = (codes: readonly string[], than: string) =>
    codes.length === 0 ? [] : [`${inWords(codes)} ${codes.length === 1 ? `is ${than} it` : `are ${than} them`}`];
  const parts = [...words(paler, 'paler than any swatch with'), ...words(deeper, 'deeper than any swatch with')];
  if (parts.length === 0) return '';
  const less = paler.length > 0 ? ' Less powder does not make a colour surer: nobody has seen it that pale.' : '';
  return `The ± is wider because ${parts.join(', and ')}.${less}`;
}

const inWords = (codes: readonly string[]): string =>
  codes.length < 2 ? codes.join('') : `${codes.slice(0, -1).join(', ')} and ${codes.at(-1)}`;

/** What dyeing the recipe once would do to the ±. A rule of our own over the model. */
export function trialInWords({ deltaE90, deltaE90AfterTrial }: Pick<Width, 'deltaE90' | 'deltaE90AfterTrial'>): string {
  const left = deltaE90AfterTrial / deltaE90;
  // No break between the sign and the figure.
  const after = `±\u00a0${deltaE90AfterTrial.toFixed(1)}`;
  if (left > 0.85) return 'A trial would hardly narrow the ±: most of it is how closely one dyeing repeats another.';
  if (left > 0.6) return `Dyed once as a trial and read, the ± narrows to about ${after}.`;
  if (left > 0.4) return `Dyed once as a trial and read, the ± about halves, to ${after}.`;
  return `Dyed once as a trial and read, the ± falls to less than half, about ${after}.`;
}

/** Said while the model has not caught up with the library; empty when it has. A rule of our own over the model. */
export const learningInWords = (learningFrom: number): string =>
  learningFrom === 0
    ? ''
    : `Learning from ${learningFrom} new ${learningFrom === 1 ? 'swatch' : 'swatches'}. Until that is done, the model from before answers.`;

/** What the ± does not cover. */
export const ONE_CLOTH = 'The ± was learned on these goods by this method alone; it says nothing of another cloth.';

/** How a colour holds under lamp light, where the target's curve says how it looks there. A rule of our own over the model. */
export function lampInWords({ fromTarget, deltaE90 }: { fromTarget: number; deltaE90: number }): {
  label: string;
  isGood: boolean;
} {
  if (fromTarget >= 4) return { label: 'parts under lamp light', isGood: false };
  if (fromTarget >= 2) return { label: 'shifts under lamp light', isGood: false };
  if (deltaE90 >= 4) return { label: 'not sure under lamp light', isGood: false };
  return { label: 'holds under lamp light', isGood: true };
}
