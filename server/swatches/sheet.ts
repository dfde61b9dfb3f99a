import { dyeClassNames } from '../calc/classFit.ts';
import { ownDepthsPpm } from '../calc/dyeMass.ts';
import { depthsDyed } from '../closings/asDyed.ts';
import { namesOfLot } from '../closings/names.ts';
import type { Db } from '../db/open.ts';
import { notFound } from '../errors.ts';
import { hexOfReading, nameOfReading, readingText } from '../readings/display.ts';
import { type ReadingWithReader, readingsOf } from '../readings/queries.ts';
import { type RevisionWithComponents, revisionWithComponents } from '../recipes/queries.ts';
import { type SwatchWithGoods, stockLotsOfSwatch, swatchWithGoods, tilesByIds } from './queries.ts';
import type { ContainerUsed, Swatch, SwatchComponent, SwatchTile } from './schemas.ts';

/** A swatch with everything that its page, its card and the API say of it. */
export interface SwatchSheet extends SwatchWithGoods {
  tile: SwatchTile;
  formula: RevisionWithComponents;
  dyeClass: string;
  /** What the goods, the method and the recipe are called now; the tile has the names that they had when the lot was closed, if the
   *  swatch is of one. */
  namesNow: Swatch['namesNow'];
  /** The depth of the lot's colour by its books, where the quantity of a dye was corrected after the closing and the swatch was
   *  made before; null elsewhere. */
  correctedDepthPpm: number | null;
  components: SwatchComponent[];
  containers: ContainerUsed[];
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
  const { lotId } = found.swatch;
  const names = lotId === null ? null : namesOfLot(db, lotId);
  const then = (kind: 'recipe' | 'fibre' | 'method', refId: number, name: string): string =>
    names?.called(kind, refId)?.name ?? name;
  return {
    ...found,
    tile: {
      ...tile,
      recipeName: then('recipe', formula.recipe.id, tile.recipeName),
      fibreName: then('fibre', tile.fibreId, tile.fibreName),
      methodName: then('method', tile.methodId, tile.methodName),
    },
    namesNow: { recipeName: tile.recipeName, fibreName: tile.fibreName, methodName: tile.methodName },
    correctedDepthPpm: lotId === null ? null : correctedDepthOf(db, lotId, found.swatch),
    formula,
    dyeClass: dyeClassNames[formula.recipe.dyeClass],
    components: formula.components.map(({ dye, sharePpm }, i) => ({
      dyeId: dye.id,
      ...(names?.called('dye', dye.id) ?? { code: dye.code, name: dye.name, nowCalled: null }),
      shownHex: dye.shownHex,
      sharePpm,
      ownDepthPpm: depths[i] ?? 0,
    })),
    containers: stockLotsOfSwatch(db, swatchId).map((c) => {
      const kept = names?.called('stockLot', c.stockLotId);
      return kept ? { ...c, code: kept.code, makerLot: kept.name } : c;
    }),
    readings: readingsOf(db, { swatchId }).map((r) => ({
      ...r,
      ...hexOfReading(r),
      name: nameOfReading(r),
      text: readingText(r),
    })),
  };
}

function correctedDepthOf(db: Db, lotId: number, swatch: { revisionId: number; depthPpm: number }): number | null {
  const colours = depthsDyed(db, [lotId]).filter((d) => d.revisionId === swatch.revisionId);
  const colour = colours.find((d) => d.weighedPpm === swatch.depthPpm) ?? colours[0];
  const corrected = colour?.correctedPpm;
  return corrected === undefined || corrected === swatch.depthPpm ? null : corrected;
}
