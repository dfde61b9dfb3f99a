import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { parse } from 'csv-parse/sync';
import type { Lab } from '../../server/calc/colour/reading.ts';
import type { Spectrum } from '../../server/calc/colour/spectra.ts';
import type { KnownSwatch, RecipeComponent } from '../../server/calc/match/predict.ts';

/* Watercolour layers on one paper, alone and in pairs, with spectra (Chen, Huang, Chang & Ouhyoung, arXiv:1904.00275): read in
   place, never copied into the product, since the set states no licence of its own. */

export interface MeasuredSample {
  id: string;
  components: RecipeComponent[];
  lab: Lab;
  spectrum: Spectrum;
}

export interface MeasuredSet {
  substrate: { lab: Lab; spectrum: Spectrum };
  singles: MeasuredSample[];
  mixtures: MeasuredSample[];
}

function rows(path: string): string[][] {
  return (parse(readFileSync(path, 'utf8'), { skip_empty_lines: true }) as string[][]).slice(1);
}

const spectrumOf = (cells: readonly string[]): Spectrum => ({
  startNm: 380,
  stepNm: 10,
  reflectance: cells.map(Number),
});

export function readMixtures(dataDir: string, labOf: (spectrum: Spectrum) => Lab): MeasuredSet {
  const at = (name: string) => join(dataDir, 'mixtures', name);
  const paper = spectrumOf(rows(at('watercolour-paper.csv'))[0] as string[]);
  return {
    substrate: { lab: labOf(paper), spectrum: paper },
    singles: rows(at('watercolour-singles.csv')).map(([dye, quantity, L, a, b, ...cells], i) => ({
      id: `S${i + 1}`,
      components: [{ dyeId: dye as string, depthPct: Number(quantity) }],
      lab: { L: Number(L), a: Number(a), b: Number(b) },
      spectrum: spectrumOf(cells),
    })),
    mixtures: rows(at('watercolour-mixtures.csv')).map(([id, one, other, quantity1, quantity2, L, a, b, ...cells]) => ({
      id: id as string,
      components: [
        { dyeId: one as string, depthPct: Number(quantity1) },
        { dyeId: other as string, depthPct: Number(quantity2) },
      ],
      lab: { L: Number(L), a: Number(a), b: Number(b) },
      spectrum: spectrumOf(cells),
    })),
  };
}

/** As swatches that a studio with an instrument, or with Lab readings alone, would hold. */
export function asSwatches(set: MeasuredSet, samples: readonly MeasuredSample[], withSpectra: boolean): KnownSwatch[] {
  return samples.map(({ id, components, lab, spectrum }) => ({
    swatchId: id,
    components,
    lab,
    ...(withSpectra ? { spectrum } : {}),
    substrate: withSpectra ? set.substrate : { lab: set.substrate.lab },
  }));
}
