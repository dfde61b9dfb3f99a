import { dyeClassNames } from '../calc/classFit.ts';
import { ownDepthsPpm } from '../calc/dyeMass.ts';
import { hexOfReading, nameOfReading, readingText } from '../colour/display.ts';
import { type ReadingWithReader, readingsOf } from '../colour/queries.ts';
import type { Db } from '../db/open.ts';
import { notFound } from '../errors.ts';
import { type RevisionWithComponents, revisionWithComponents } from '../recipes/queries.ts';
import { type SwatchTile, type SwatchWithGoods, stockLotsOfSwatch, swatchWithGoods, tilesByIds } from './queries.ts';

export interface FormulaLine {
  dyeId: number;
  code: string;
  name: string;
  shownHex: string | null;
  sharePpm: number;
  ownDepthPpm: number;
}

/** A swatch with everything that its page, its card and the API say of it. */
export interface SwatchSheet extends SwatchWithGoods {
  tile: SwatchTile;
  formula: RevisionWithComponents;
  dyeClass: string;
  components: FormulaLine[];
  containers: ReturnType<typeof stockLotsOfSwatch>;
  readings: (ReadingWithReader & { hex: string; inGamut: boolean; adapted: boolean; name: string; text: string })[];
}

/** Reads a swatch whole; throws notFound. Own depths are those of the swatch's depth, which may be another than the recipe's. */
export function swatchSheet(db: Db, swatchId: number): SwatchSheet {
  const found = swatchWithGoods(db, swatchId);
  const [tile] = tilesByIds(db, [swatchId]);
  const formula = found && revisionWithComponents(db, found.swatch.revisionId);
  if (!found || !tile || !formula) throw notFound('swatch');
  const depths = ownDepthsPpm({
    depthPpm: found.swatch.depthPpm,
    sharesPpm: formula.components.map((c) => c.sharePpm),
  });
  return {
    ...found,
    tile,
    formula,
    dyeClass: dyeClassNames[formula.recipe.dyeClass],
    components: formula.components.map(({ dye, sharePpm }, i) => ({
      dyeId: dye.id,
      code: dye.code,
      name: dye.name,
      shownHex: dye.shownHex,
      sharePpm,
      ownDepthPpm: depths[i] ?? 0,
    })),
    containers: stockLotsOfSwatch(db, swatchId),
    readings: readingsOf(db, { swatchId }).map((r) => ({
      ...r,
      ...hexOfReading(r),
      name: nameOfReading(r),
      text: readingText(r),
    })),
  };
}
