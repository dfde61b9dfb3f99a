import { readingResource } from '../readings/display.ts';
import { cardOf, type Swatch, type SwatchShown } from './schemas.ts';
import type { SwatchSheet } from './sheet.ts';

const ofSwatch = ({ swatch, tile, formula, namesNow, correctedDepthPpm, madeByName }: SwatchSheet) => ({
  ...tile,
  recipeId: formula.recipe.id,
  revisionNumber: formula.revision.number,
  namesNow,
  correctedDepthPpm,
  lotId: swatch.lotId,
  dryMassMg: swatch.dryMassMg,
  madeBy: { personId: swatch.madeBy, name: madeByName },
  ...cardOf(swatch),
  archived: swatch.archivedAt !== null,
  version: swatch.version,
});

export const swatchResource = (sheet: SwatchSheet): Swatch => ({
  ...ofSwatch(sheet),
  components: sheet.components.map(({ shownHex: _hex, nowCalled: _now, ...c }) => c),
  stockLots: sheet.containers.map(({ stockLotId, code }) => ({ stockLotId, code })),
  readings: sheet.readings.map(({ readByName: _name, text: _text, ...row }) => readingResource(row)),
});

/** A swatch as its page and its card show it. */
export const swatchShown = (sheet: SwatchSheet): SwatchShown => ({
  ...ofSwatch(sheet),
  dyeClass: sheet.dyeClass,
  lotNumber: sheet.lotNumber,
  components: sheet.components,
  containers: sheet.containers,
});
