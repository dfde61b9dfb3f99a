import type { MethodAuxiliaryRow } from '../db/tables/recipes.ts';

export const pct = (ppm: number): string => `${Number((ppm / 10_000).toFixed(4))} %`;

export function basisText(line: MethodAuxiliaryRow): string {
  const amount = Number((line.amountMilli / 1000).toFixed(3));
  switch (line.basis) {
    case 'owg':
      return `${amount} % owg`;
    case 'gPerL':
      return `${amount} g/L of ${line.vessel}`;
    case 'mlPerL':
      return `${amount} mL/L of ${line.vessel}`;
    case 'fixedMass':
      return `${amount} g, as stated`;
    case 'fixedVolume':
      return `${amount} mL, as stated`;
  }
}
