import { addRevision, createRecipe } from '../server/recipes/revisions.ts';
import { DAY_MS, type Named, named, type Sowing } from './sowing.ts';

/* Recipes of the invented studio: every dye alone for its ladder, pairs for the blend ladders, and the house's shades. */

type Parts = readonly (readonly [code: string, amount: number])[];

export interface Shade {
  name: string;
  /** Total depth, %. */
  depth: number;
  /** Shares, % of the total; or each dye's own depth when `own` is said. */
  parts: Parts;
  own?: true;
  note?: string;
  /** Later revisions: days before now, what they are, why. */
  later?: readonly { daysBefore: number; depth: number; parts: Parts; why: string }[];
}

const alone = (code: string, name: string, depth: number): [string, Shade] => [
  code,
  { name: `${name}, alone`, depth, parts: [[code, 100]], note: 'For the ladder.' },
];
const pair = (key: string, name: string, depth: number, a: string, share: number, b: string): [string, Shade] => [
  key,
  {
    name,
    depth,
    parts: [
      [a, share],
      [b, 100 - share],
    ],
  },
];

export const SHADES: ReadonlyMap<string, Shade> = new Map<string, Shade>([
  alone('F11', 'Gorse yellow', 2),
  alone('F15', 'Apricot gold', 2),
  alone('F31', 'Rowan red', 2),
  alone('F38', 'Foxglove', 1.5),
  alone('F52', 'Deepwater blue', 2),
  alone('F58', 'Shallows turquoise', 2),
  alone('F61', 'Channel navy', 3),
  alone('F90', 'Slate black', 4),
  alone('M12', 'Bracken yellow', 1),
  alone('M24', 'Fox rust', 1),
  alone('M33', 'Dulse red', 1),
  alone('M54', 'Heron blue', 1),
  alone('M72', 'Kelp olive', 1),
  alone('M92', 'Coal black', 2),
  // Blend ladders.
  pair('lichen', 'Lichen', 2, 'F15', 85, 'F52'),
  pair('samphire', 'Samphire', 2, 'F15', 62, 'F52'),
  pair('eelgrass', 'Eelgrass', 2, 'F15', 38, 'F52'),
  pair('cormorant', 'Cormorant', 2, 'F15', 15, 'F52'),
  pair('duskRose', 'Dusk rose', 2, 'F31', 82, 'F52'),
  pair('seaAster', 'Sea aster', 2, 'F31', 55, 'F52'),
  pair('thrift', 'Thrift violet', 2, 'F31', 26, 'F52'),
  pair('buoy', 'Buoy orange', 2, 'F15', 72, 'F31'),
  pair('rosehip', 'Rosehip', 2, 'F15', 40, 'F31'),
  pair('seaHolly', 'Sea holly', 1.5, 'F58', 72, 'F11'),
  pair('saltmarsh', 'Saltmarsh green', 2, 'F58', 42, 'F11'),
  pair('heatherRope', 'Heather rope', 1.5, 'F38', 58, 'F58'),
  // The house's shades on cellulose.
  [
    'estuary',
    {
      name: 'Estuary grey',
      depth: 0.8,
      parts: [
        ['F52', 48],
        ['F15', 29],
        ['F31', 23],
      ],
      note: 'The guild’s grey. Judge it in north light: it turns green under lamps.',
      later: [
        {
          daysBefore: 262,
          depth: 0.8,
          parts: [
            ['F52', 47],
            ['F15', 27],
            ['F31', 26],
          ],
          why: 'A little too green on the first two lots.',
        },
        {
          daysBefore: 118,
          depth: 0.85,
          parts: [
            ['F52', 47],
            ['F15', 27],
            ['F31', 26],
          ],
          why: 'The café wants it a touch deeper.',
        },
      ],
    },
  ],
  [
    'tidewrack',
    {
      name: 'Tidewrack',
      depth: 3,
      parts: [
        ['F15', 52],
        ['F31', 24],
        ['F61', 24],
      ],
      note: 'The house brown.',
    },
  ],
  [
    'rustStake',
    {
      name: 'Rusted stake',
      depth: 3,
      parts: [
        ['F15', 64],
        ['F31', 31],
        ['F90', 5],
      ],
      later: [
        {
          daysBefore: 205,
          depth: 3.2,
          parts: [
            ['F15', 66],
            ['F31', 30],
            ['F90', 4],
          ],
          why: 'Cleaner: less black.',
        },
      ],
    },
  ],
  [
    'ochre',
    {
      name: 'Ochre cliff',
      depth: 2,
      parts: [
        ['F15', 84],
        ['F31', 9],
        ['F61', 7],
      ],
    },
  ],
  [
    'indigoRope',
    {
      name: 'Indigo rope',
      depth: 4,
      parts: [
        ['F61', 66],
        ['F52', 26],
        ['F38', 8],
      ],
      note: 'As near to indigo as we get without the vat.',
      later: [
        {
          daysBefore: 150,
          depth: 4.5,
          parts: [
            ['F61', 66],
            ['F52', 24],
            ['F38', 10],
          ],
          why: 'Redder, and past the grey of the new navy.',
        },
      ],
    },
  ],
  [
    'mooring',
    {
      name: 'Deep mooring',
      depth: 6,
      parts: [
        ['F61', 72],
        ['F90', 28],
      ],
    },
  ],
  [
    'madder',
    {
      name: 'Madder pink',
      depth: 1.2,
      parts: [
        ['F31', 76],
        ['F15', 22],
        ['F52', 2],
      ],
    },
  ],
  [
    'slate',
    {
      name: 'Slate roof',
      depth: 2,
      parts: [
        ['F90', 74],
        ['F52', 26],
      ],
    },
  ],
  [
    'mudflat',
    {
      name: 'Mud flat',
      depth: 0.35,
      parts: [
        ['F15', 54],
        ['F31', 30],
        ['F52', 16],
      ],
    },
  ],
  [
    'seaGlass',
    {
      name: 'Sea glass',
      depth: 0.45,
      parts: [
        ['F58', 82],
        ['F15', 18],
      ],
    },
  ],
  [
    'harbour',
    {
      name: 'Harbour night',
      depth: 8,
      parts: [
        ['F90', 88],
        ['F15', 12],
      ],
      note: 'Two hot washes more than the method says.',
    },
  ],
  [
    'wineDark',
    {
      name: 'Wine-dark',
      depth: 4,
      parts: [
        ['F38', 54],
        ['F61', 32],
        ['F31', 14],
      ],
    },
  ],
  [
    'bottle',
    {
      name: 'Bottle bank',
      depth: 3,
      parts: [
        ['F58', 46],
        ['F15', 30],
        ['F61', 24],
      ],
    },
  ],
  [
    'blush',
    {
      name: 'Cockle blush',
      depth: 0.3,
      parts: [
        ['F31', 70],
        ['F15', 30],
      ],
    },
  ],
  // And on wool and silk.
  [
    'moss',
    {
      name: 'Groyne moss',
      depth: 1.2,
      parts: [
        ['M12', 68],
        ['M54', 32],
      ],
    },
  ],
  [
    'kelpPath',
    {
      name: 'Kelp path',
      depth: 1.2,
      parts: [
        ['M12', 42],
        ['M54', 58],
      ],
    },
  ],
  [
    'foxBerry',
    {
      name: 'Fox and berry',
      depth: 1.2,
      parts: [
        ['M24', 60],
        ['M33', 40],
      ],
    },
  ],
  [
    'heather',
    {
      name: 'Heather bank',
      depth: 1,
      parts: [
        ['M33', 60],
        ['M54', 40],
      ],
    },
  ],
  [
    'bilberry',
    {
      name: 'Bilberry',
      depth: 1.6,
      parts: [
        ['M33', 32],
        ['M54', 68],
      ],
      later: [
        {
          daysBefore: 171,
          depth: 1.7,
          parts: [
            ['M33', 36],
            ['M54', 64],
          ],
          why: 'Redder, as the knitters asked.',
        },
      ],
    },
  ],
  [
    'curlew',
    {
      name: 'Curlew',
      depth: 0.9,
      own: true,
      parts: [
        ['M24', 0.42],
        ['M54', 0.22],
        ['M12', 0.26],
      ],
    },
  ],
  [
    'petrel',
    {
      name: 'Storm petrel',
      depth: 1.1,
      parts: [
        ['M92', 58],
        ['M54', 42],
      ],
    },
  ],
  [
    'lamp',
    {
      name: 'Lamp room',
      depth: 1.4,
      parts: [
        ['M24', 36],
        ['M12', 64],
      ],
    },
  ],
  [
    'pebble',
    {
      name: 'Pebble',
      depth: 0.25,
      parts: [
        ['M92', 62],
        ['M24', 38],
      ],
    },
  ],
  [
    'dulse',
    {
      name: 'Dulse and sand',
      depth: 0.9,
      parts: [
        ['M33', 64],
        ['M12', 36],
      ],
    },
  ],
]);

export const dyeClassOf = (shade: Shade): 'reactive' | 'metalComplex' =>
  shade.parts[0]?.[0].startsWith('F') ? 'reactive' : 'metalComplex';

interface WrittenRevision {
  revisionId: number;
  madeAt: number;
  depth: number;
  /** Shares, 0–1. */
  shares: [code: string, share: number][];
}

/** Every shade's revisions, oldest first. */
export type Recipes = ReadonlyMap<string, readonly WrittenRevision[]>;

const sharesOf = (parts: Parts): [string, number][] => {
  const total = parts.reduce((sum, [, amount]) => sum + amount, 0);
  return parts.map(([code, amount]) => [code, amount / total]);
};

/** Writes the recipes with all revisions, each at its time. */
export function writeRecipes(s: Sowing, dyes: Named['dyes']): Recipes {
  const recipes = new Map<string, WrittenRevision[]>();
  let daysBefore = 366;
  for (const [key, shade] of SHADES) {
    daysBefore -= 0.4;
    const madeAt = s.nowAt - daysBefore * DAY_MS;
    const head = { name: shade.name, dyeClass: dyeClassOf(shade), note: shade.note ?? '', why: '' };
    const { recipe, revision } = createRecipe(
      s.deps.db,
      shade.own
        ? {
            ...head,
            entryStyle: 'ownDepths',
            components: shade.parts.map(([code, own]) => ({
              dyeId: named(dyes, code),
              depthPpm: Math.round(own * 10_000),
            })),
          }
        : { ...head, ...splitOf(shade.depth, shade.parts, dyes) },
      s.owner,
      madeAt,
    );
    const written = [{ revisionId: revision.id, madeAt, depth: shade.depth, shares: sharesOf(shade.parts) }];
    for (const later of shade.later ?? []) {
      const at = s.nowAt - later.daysBefore * DAY_MS;
      const row = addRevision(
        s.deps.db,
        recipe.id,
        { ...splitOf(later.depth, later.parts, dyes), why: later.why },
        later.daysBefore % 2 === 0 ? s.owner : s.dyer,
        at,
      );
      written.push({ revisionId: row.id, madeAt: at, depth: later.depth, shares: sharesOf(later.parts) });
    }
    recipes.set(key, written);
  }
  return recipes;
}

const splitOf = (depth: number, parts: Parts, dyes: Named['dyes']) => ({
  entryStyle: 'split' as const,
  totalDepthPpm: Math.round(depth * 10_000),
  components: parts.map(([code, share]) => ({ dyeId: named(dyes, code), sharePpm: share * 10_000 })),
});

/** The revision that holds at an instant. */
export function revisionAt(recipes: Recipes, key: string, at: number): WrittenRevision {
  const all = recipes.get(key);
  const found = all?.findLast((r) => r.madeAt <= at) ?? all?.[0];
  if (!found) throw new Error(`the seed knows no shade ${key}`);
  return found;
}
