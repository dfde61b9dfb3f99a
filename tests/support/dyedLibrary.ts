import type { Lab } from '../../server/calc/colour/reading.ts';
import { createRecipe } from '../../server/recipes/revisions.ts';
import { addSwatch } from '../../server/swatches/addSwatch.ts';
import type { TestStudio } from './app.ts';
import { seededRandom, syntheticLab, syntheticSwatch } from './syntheticCloth.ts';
import { makeWorld, type World } from './world.ts';

/* The named world with a library of samples whose colours come from invented cloth: other rules than the model that is to
   predict them. */

const NAMES = { blue: 'blue', yellow: 'yellow', red: 'rubine' } as const;
type Dye = keyof typeof NAMES;
export type Formula = Partial<Record<Dye, number>>;

const componentsOf = (formula: Formula) =>
  (Object.entries(formula) as [Dye, number][]).map(([dye, depthPct]) => ({ dyeId: NAMES[dye], depthPct }));

/** Colour of goods dyed so, without slips: CIELAB D65/10°. */
export const trueColour = (formula: Formula): Lab => syntheticLab(componentsOf(formula));

/** What the studio sampled: ladders of each dye and blends of each pair, % on weight of goods. */
export const SAMPLED: readonly Formula[] = [
  ...(['blue', 'yellow', 'red'] as const).flatMap((dye) => [0.2, 0.5, 1, 2, 4].map((d): Formula => ({ [dye]: d }))),
  ...(
    [
      ['blue', 'yellow'],
      ['blue', 'red'],
      ['yellow', 'red'],
    ] as const
  ).flatMap(([one, other]) =>
    [0.6, 2].flatMap((depth) =>
      [0.2, 0.5, 0.8].map((share): Formula => ({ [one]: depth * share, [other]: depth * (1 - share) })),
    ),
  ),
  { blue: 0.5, yellow: 0.5, red: 0.5 },
  { blue: 0.2, yellow: 1, red: 0.3 },
  { blue: 1, yellow: 0.3, red: 0.6 },
];

export interface DyedLibrary extends World {
  /** Dyes a recipe on these goods and reads it; the swatch's id. */
  dye(formula: Formula): number;
  /** JSON of a recipe to predict. */
  asked(formula: Formula): { fibreId: number; methodId: number; components: { dyeId: number; depthPpm: number }[] };
}

export function dyedLibrary(
  studio: Pick<TestStudio, 'deps' | 'owner'>,
  sampled: readonly Formula[] = SAMPLED,
): DyedLibrary {
  const world = makeWorld(studio);
  const random = seededRandom(7);
  const { db } = studio.deps;
  let number = 0;
  const inPpm = (formula: Formula) =>
    (Object.entries(formula) as [Dye, number][]).map(([dye, pct]) => ({
      dyeId: world.dyeIds[dye],
      depthPpm: Math.round(pct * 10_000),
    }));
  const dye = (formula: Formula): number => {
    number += 1;
    const { lab } = syntheticSwatch({
      swatchId: String(number),
      components: componentsOf(formula),
      random,
      withSpectrum: false,
    });
    if (!lab) throw new Error('the invented swatch has a colour');
    const components = inPpm(formula);
    const { revision } = createRecipe(
      db,
      { name: `Sample ${number}`, dyeClass: 'reactive', note: '', why: '', entryStyle: 'ownDepths', components },
      studio.owner,
      studio.deps.now(),
    );
    return addSwatch(
      db,
      {
        code: null,
        name: `Sample ${number}`,
        revisionId: revision.id,
        depthPpm: revision.totalDepthPpm,
        fibreId: world.linenId,
        methodId: world.methodId,
        lotId: null,
        dryMassMg: null,
        dyedOn: '2026-03-01',
        cardPlace: '',
        photoId: null,
        rating: null,
        note: '',
        stockLotIds: [],
        readings: [
          {
            colour: { l: lab.L, a: lab.a, b: lab.b, illuminant: 'D65', observer: '10' },
            source: 'instrument',
            asTyped: '',
            areaSharePpm: null,
            uncertaintyMilli: null,
            note: '',
          },
        ],
      },
      studio.owner,
      studio.deps.now(),
    ).id;
  };
  for (const formula of sampled) dye(formula);
  return {
    ...world,
    dye,
    asked: (formula) => ({ fibreId: world.linenId, methodId: world.methodId, components: inPpm(formula) }),
  };
}
