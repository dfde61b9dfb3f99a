import { methodAuxiliaries, methodFields, methodSteps, methods } from '../../server/db/tables/recipes.ts';
import { createRecipe } from '../../server/recipes/revisions.ts';
import type { TestStudio } from './app.ts';
import type { World } from './world.ts';

/** Ice dyeing in the small world: four colours of two dyes each, a soda soak, and what the method asks to be recorded.
 *  Steps and fields after the trade's habit: soak 15–30 min, powder over or under the ice, a melt, batching, cold rinse. */
export interface IceWorld {
  methodId: number;
  /** Four recipes, each of two dyes. */
  revisionIds: readonly number[];
}

export function makeIceWorld({ deps, owner }: Pick<TestStudio, 'deps' | 'owner'>, world: World): IceWorld {
  const { db } = deps;
  const methodId = db
    .insert(methods)
    .values({
      name: 'Ice dyeing, reactive',
      dyeClass: 'reactive',
      soakMlPerKg: 8000,
      cautions: 'Cold rinse before any hot water.',
    })
    .returning()
    .get().id;
  const { blue, yellow, red } = world.dyeIds;
  const steps = [
    { name: 'Soda soak', durationS: 1500, tempC: 22, handsOnS: 360 },
    { name: 'Fold and set on the rack', durationS: 1200, handsOnS: 1200 },
    { name: 'Ice and powder', durationS: 900, handsOnS: 900 },
    { name: 'Melt', durationS: 21_600, tempC: 18, handsOnS: 300 },
    { name: 'Cold rinse', durationS: 1800, tempC: 15, handsOnS: 1200 },
  ];
  db.insert(methodSteps)
    .values(steps.map((s, i) => ({ methodId, ordinal: i + 1, ...s })))
    .run();
  db.insert(methodAuxiliaries)
    .values([
      {
        methodId,
        ordinal: 1,
        auxiliaryId: world.auxiliaryIds.soda,
        vessel: 'soak',
        basis: 'gPerL',
        amountMilli: 40_000,
      },
    ])
    .run();
  const fields = [
    { label: 'Ice', kind: 'mass' as const, unit: 'kg', choices: '' },
    { label: 'Form of the ice', kind: 'choice' as const, unit: '', choices: 'cubes\ncrushed\nsnow' },
    { label: 'Powder', kind: 'choice' as const, unit: '', choices: 'over the ice\nunder the ice' },
    { label: 'Rack or pool', kind: 'choice' as const, unit: '', choices: 'on the rack\nin the melt' },
  ];
  db.insert(methodFields)
    .values(fields.map((f, i) => ({ methodId, ordinal: i + 1, ...f })))
    .run();
  const mixed = (name: string, components: readonly [number, number][]): number =>
    createRecipe(
      db,
      {
        name,
        dyeClass: 'reactive',
        note: '',
        why: '',
        entryStyle: 'split',
        totalDepthPpm: 30_000,
        components: components.map(([dyeId, sharePpm]) => ({ dyeId, sharePpm })),
      },
      owner,
      deps.now(),
    ).revision.id;
  return {
    methodId,
    revisionIds: [
      mixed('Kelp', [
        [blue, 600_000],
        [yellow, 400_000],
      ]),
      mixed('Sloe', [
        [blue, 700_000],
        [red, 300_000],
      ]),
      mixed('Rowan', [
        [red, 800_000],
        [yellow, 200_000],
      ]),
      mixed('Lichen', [
        [yellow, 800_000],
        [blue, 200_000],
      ]),
    ],
  };
}
