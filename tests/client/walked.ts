/** What the client of the API found on its way. */
export interface Walked {
  lotNumber: string;
  status: string;
  costMinor: number;
  swatchCode: string;
  exported: string;
  nearest: string;
  predictedL: number;
  proposals: number;
  refusal: { code: string; type: string; field: string };
}
