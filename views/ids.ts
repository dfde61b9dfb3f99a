/** DOM ids that markup, hx-target and tests share. */
export const ids = {
  weighUp: 'weigh-up',
  bench: 'bench',
  colourRows: 'colour-rows',
} as const;
