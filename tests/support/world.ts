import { auxiliaries, dyes } from '../../server/db/tables/materials.ts';
import { methodAuxiliaries, methodFields, methodSteps, methods } from '../../server/db/tables/recipes.ts';
import type { StockLotRow } from '../../server/db/tables/stock.ts';
import { insertFibre } from '../../server/fibres/queries.ts';
import { createRecipe } from '../../server/recipes/revisions.ts';
import { updateStudio } from '../../server/settings/queries.ts';
import { receive } from '../../server/stock/ledger.ts';
import type { TestStudio } from './app.ts';

/** A small named world: linen and merino, three reactive dyes in stock, salt and soda, one immersion method. */
export interface World {
  linenId: number;
  dyeIds: { blue: number; yellow: number; red: number };
  stock: { blue: StockLotRow; yellow: StockLotRow; red: StockLotRow; soda: StockLotRow; salt: StockLotRow };
  auxiliaryIds: { soda: number; salt: number };
  methodId: number;
  revisionId: number;
  recipeId: number;
}

export function makeWorld({ deps, owner }: Pick<TestStudio, 'deps' | 'owner'>): World {
  const { db } = deps;
  const when = { at: deps.now(), recordedAt: deps.now() };
  updateStudio(db, { labourRateMinorPerHour: 2400, overheadRateMinorPerHour: 900 }, 1);
  const linenId = insertFibre(db, {
    name: 'Linen, plain',
    class: 'cellulose',
    kind: 'cloth',
    construction: 'plain',
    arealMassMgPerM2: 190_000,
    widthMm: 1400,
    countText: '',
    putUpMassMg: null,
    putUpLengthMm: null,
    regainPpm: 120_000,
    shrinkLengthPpm: 40_000,
    shrinkWidthPpm: 20_000,
    uptakePpm: 1_000_000,
    costMinorPerKg: 2600,
    note: '',
  }).id;
  const dye = (code: string, name: string): number =>
    db.insert(dyes).values({ code, name, class: 'reactive' }).returning().get().id;
  const dyeIds = { blue: dye('RB', 'Tide blue'), yellow: dye('RY', 'Gorse yellow'), red: dye('RR', 'Hip red') };
  const aux = (code: string, name: string): number =>
    db.insert(auxiliaries).values({ code, name, form: 'solid' }).returning().get().id;
  const auxiliaryIds = { soda: aux('SODA', 'Soda ash'), salt: aux('SALT', 'Salt') };
  const box = (code: string, item: Partial<StockLotRow>, quantity: number, priceMinor: number): StockLotRow =>
    receive(
      db,
      {
        code,
        kind: item.dyeId ? 'dye' : 'auxiliary',
        dyeId: item.dyeId ?? null,
        auxiliaryId: item.auxiliaryId ?? null,
        fibreId: null,
        unit: 'mg',
        supplier: 'a dye merchant',
        makerLot: `M-${code}`,
        strengthPpm: 1_000_000,
        receivedOn: '2026-01-05',
        openedOn: null,
        bestBeforeOn: null,
        priceMinor,
        freightMinor: 0,
        receivedQuantity: quantity,
        sourceStockLotId: null,
        concPpm: null,
        note: '',
      },
      owner,
      when,
    );
  const stock = {
    blue: box('B-1', { dyeId: dyeIds.blue }, 500_000, 4000),
    yellow: box('Y-1', { dyeId: dyeIds.yellow }, 500_000, 3500),
    red: box('R-1', { dyeId: dyeIds.red }, 250_000, 3000),
    soda: box('SO-1', { auxiliaryId: auxiliaryIds.soda }, 5_000_000, 1500),
    salt: box('SA-1', { auxiliaryId: auxiliaryIds.salt }, 10_000_000, 1000),
  };
  const methodId = db
    .insert(methods)
    .values({
      name: 'Immersion, reactive',
      dyeClass: 'reactive',
      bathMlPerKg: 20_000,
      cautions: 'Salt and alkali out cold before any hot water.',
    })
    .returning()
    .get().id;
  db.insert(methodSteps)
    .values([
      { methodId, ordinal: 1, name: 'Soda soak', durationS: 1200, handsOnS: 300 },
      { methodId, ordinal: 2, name: 'Dye', durationS: 3000, tempC: 40, handsOnS: 900 },
      { methodId, ordinal: 3, name: 'Batching', durationS: 21_600, tempC: 22, handsOnS: 120 },
    ])
    .run();
  db.insert(methodAuxiliaries)
    .values([
      { methodId, ordinal: 1, auxiliaryId: auxiliaryIds.salt, vessel: 'bath', basis: 'gPerL', amountMilli: 50_000 },
      { methodId, ordinal: 2, auxiliaryId: auxiliaryIds.soda, vessel: 'bath', basis: 'gPerL', amountMilli: 15_000 },
    ])
    .run();
  db.insert(methodFields)
    .values([{ methodId, ordinal: 1, label: 'Pick-up', kind: 'number', unit: '%' }])
    .run();
  const recipe = createRecipe(
    db,
    {
      name: 'Estuary',
      dyeClass: 'reactive',
      note: '',
      why: '',
      entryStyle: 'split',
      totalDepthPpm: 20_000,
      components: [
        { dyeId: dyeIds.blue, sharePpm: 500_000 },
        { dyeId: dyeIds.yellow, sharePpm: 300_000 },
        { dyeId: dyeIds.red, sharePpm: 200_000 },
      ],
    },
    owner,
    deps.now(),
  );
  return { linenId, dyeIds, stock, auxiliaryIds, methodId, revisionId: recipe.revision.id, recipeId: recipe.recipe.id };
}
