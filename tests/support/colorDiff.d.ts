declare module 'color-diff' {
  interface LabColour {
    L: number;
    a: number;
    b: number;
  }
  /** CIEDE2000. */
  export function diff(one: LabColour, other: LabColour): number;
}
