import { dyes, fibres } from '../../server/db/tables/materials.ts';
import { methods } from '../../server/db/tables/recipes.ts';
import { createRecipe } from '../../server/recipes/revisions.ts';
import { receive } from '../../server/stock/ledger.ts';
import { addSwatch, type SwatchInput } from '../../server/swatches/addSwatch.ts';
import type { TestStudio } from './app.ts';

export interface Library {
  yellowId: number;
  redId: number;
  blueId: number;
  linenId: number;
  silkId: number;
  methodId: number;
  /** Yellow 60 %, blue 40 % of 2 %. */
  greenRevisionId: number;
  /** Red alone at 1 %. */
  redRevisionId: number;
  /** A container of yellow with 100 g in it. */
  yellowStockLotId: number;
}

/** A small invented library to stand on: three reactive dyes, linen and silk, one cold method, two recipes; of the dyes
 *  only yellow has a container. */
export function smallLibrary(studio: TestStudio): Library {
  const { db } = studio.deps;
  const dye = (code: string, name: string): number =>
    db.insert(dyes).values({ code, name, class: 'reactive' }).returning().get().id;
  const yellowId = dye('Y1', 'Lemon yellow');
  const redId = dye('R1', 'Madder red');
  const blueId = dye('B1', 'Deep blue');
  const linenId = db.insert(fibres).values({ name: 'Linen', class: 'cellulose', kind: 'cloth' }).returning().get().id;
  const silkId = db
    .insert(fibres)
    .values({ name: 'Silk', class: 'protein', kind: 'cloth', uptakePpm: 1_200_000 })
    .returning()
    .get().id;
  const methodId = db
    .insert(methods)
    .values({ name: 'Cold batch', dyeClass: 'reactive', bathMlPerKg: 10_000 })
    .returning()
    .get().id;
  const green = createRecipe(
    db,
    {
      name: 'Reed',
      dyeClass: 'reactive',
      note: '',
      entryStyle: 'split',
      totalDepthPpm: 20_000,
      components: [
        { dyeId: yellowId, sharePpm: 600_000 },
        { dyeId: blueId, sharePpm: 400_000 },
      ],
      why: '',
    },
    studio.owner,
    studio.clock.now,
  );
  const red = createRecipe(
    db,
    {
      name: 'Brick',
      dyeClass: 'reactive',
      note: '',
      entryStyle: 'ownDepths',
      components: [{ dyeId: redId, depthPpm: 10_000 }],
      why: '',
    },
    studio.owner,
    studio.clock.now,
  );
  const stockLot = receive(
    db,
    {
      code: 'D-0001',
      kind: 'dye',
      dyeId: yellowId,
      auxiliaryId: null,
      fibreId: null,
      unit: 'mg',
      supplier: '',
      makerLot: '',
      strengthPpm: 1_000_000,
      receivedOn: '2026-01-05',
      openedOn: null,
      bestBeforeOn: null,
      priceMinor: 1200,
      freightMinor: 0,
      receivedQuantity: 100_000,
      sourceStockLotId: null,
      concPpm: null,
      note: '',
    },
    studio.owner,
    { at: studio.clock.now, recordedAt: studio.clock.now },
  );
  return {
    yellowId,
    redId,
    blueId,
    linenId,
    silkId,
    methodId,
    greenRevisionId: green.revision.id,
    redRevisionId: red.revision.id,
    yellowStockLotId: stockLot.id,
  };
}

/** One more swatch in the library; reed green at 2 % on linen unless said otherwise. */
export const oneSwatch = (studio: TestStudio, library: Library, input: Partial<SwatchInput> = {}) =>
  addSwatch(
    studio.deps.db,
    {
      code: null,
      name: 'Reed',
      revisionId: library.greenRevisionId,
      depthPpm: 20_000,
      fibreId: library.linenId,
      methodId: library.methodId,
      lotId: null,
      dryMassMg: null,
      dyedOn: '2026-03-01',
      cardPlace: '',
      photoId: null,
      rating: null,
      note: '',
      stockLotIds: [],
      readings: [],
      ...input,
    },
    studio.owner,
    studio.clock.now,
  );
