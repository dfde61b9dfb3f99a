import { dayOf } from '../server/settings/days.ts';
import { addSwatch } from '../server/swatches/addSwatch.ts';
import { asItCameOut, readingsOf, type Tone, tonesOf } from './cloth.ts';
import type { DyePct, Ground } from './colourWorld.ts';
import { chanceOf } from './random.ts';
import { type Recipes, revisionAt, SHADES } from './shades.ts';
import { type Named, named, type Sowing, workingHour } from './sowing.ts';
import { containersOf, keepInStock } from './supplies.ts';

/** A sampling day: the same goods and method, several shades at several depths (null: the recipe's own). */
interface SamplingDay {
  daysBefore: number;
  fibre: string;
  method: string;
  pieceG: number;
  cards: string;
  dyed: readonly (readonly [shades: string, depths: readonly (number | null)[]])[];
}

const OWN = [null] as const;

/** The library as it grew: ladders first, then blends, then the shades on other goods. */
const DAYS: readonly SamplingDay[] = [
  {
    daysBefore: 362,
    fibre: 'linen',
    method: 'pot',
    pieceG: 10,
    cards: 'Drawer 1',
    dyed: [
      ['F15 F52', [0.25, 1, 2, 4]],
      ['F31', [0.5, 2, 4]],
    ],
  },
  {
    daysBefore: 361,
    fibre: 'linen',
    method: 'pot',
    pieceG: 10,
    cards: 'Drawer 1',
    dyed: [
      ['F61', [0.3, 1.5, 4]],
      ['F90', [0.4, 2, 7]],
      ['F38', [0.4, 1.5, 4]],
    ],
  },
  { daysBefore: 358, fibre: 'linen', method: 'pot', pieceG: 10, cards: 'Drawer 1', dyed: [['F11 F58', [0.4, 1.5, 4]]] },
  {
    daysBefore: 355,
    fibre: 'linen',
    method: 'pot',
    pieceG: 10,
    cards: 'Drawer 2',
    dyed: [['lichen samphire eelgrass cormorant duskRose seaAster thrift', OWN]],
  },
  {
    daysBefore: 352,
    fibre: 'linen',
    method: 'pot',
    pieceG: 10,
    cards: 'Drawer 2',
    dyed: [
      ['buoy rosehip seaHolly saltmarsh heatherRope', OWN],
      ['samphire', [0.6]],
    ],
  },
  {
    daysBefore: 348,
    fibre: 'merinoSilk',
    method: 'kettle',
    pieceG: 5,
    cards: 'Binder A',
    dyed: [
      ['M12 M24 M54', [0.2, 0.8, 2]],
      ['M33', [0.2, 1, 2]],
    ],
  },
  {
    daysBefore: 345,
    fibre: 'merinoSilk',
    method: 'kettle',
    pieceG: 5,
    cards: 'Binder A',
    dyed: [
      ['M72', [0.3, 1.2]],
      ['M92', [0.3, 1.5]],
      ['moss kelpPath foxBerry heather bilberry', OWN],
    ],
  },
  {
    daysBefore: 341,
    fibre: 'linen',
    method: 'pot',
    pieceG: 10,
    cards: 'Drawer 3',
    dyed: [['estuary tidewrack rustStake ochre indigoRope madder slate mudflat', OWN]],
  },
  {
    daysBefore: 338,
    fibre: 'linen',
    method: 'pot',
    pieceG: 10,
    cards: 'Drawer 3',
    dyed: [['seaGlass harbour wineDark bottle blush mooring', OWN]],
  },
  {
    daysBefore: 335,
    fibre: 'merinoSilk',
    method: 'kettle',
    pieceG: 5,
    cards: 'Binder A',
    dyed: [['curlew petrel lamp dulse', OWN]],
  },
  {
    daysBefore: 331,
    fibre: 'gauze',
    method: 'pot',
    pieceG: 8,
    cards: 'Drawer 4',
    dyed: [
      ['F61', [1.5]],
      ['slate rustStake seaGlass eelgrass madder', OWN],
    ],
  },
  {
    daysBefore: 298,
    fibre: 'linen',
    method: 'ice',
    pieceG: 40,
    cards: 'Flat file',
    dyed: [
      ['F90', [4]],
      ['seaAster tidewrack', OWN],
    ],
  },
  {
    daysBefore: 276,
    fibre: 'merino',
    method: 'speckle',
    pieceG: 10,
    cards: 'Binder B',
    dyed: [['bilberry foxBerry', OWN]],
  },
  { daysBefore: 259, fibre: 'linen', method: 'pot', pieceG: 10, cards: 'Drawer 3', dyed: [['estuary', OWN]] },
  {
    daysBefore: 241,
    fibre: 'drill',
    method: 'pot',
    pieceG: 12,
    cards: 'Drawer 4',
    dyed: [['tidewrack indigoRope ochre bottle', OWN]],
  },
  {
    daysBefore: 214,
    fibre: 'viscose',
    method: 'pot',
    pieceG: 8,
    cards: 'Drawer 4',
    dyed: [['wineDark seaHolly heatherRope blush', OWN]],
  },
  { daysBefore: 203, fibre: 'linen', method: 'pot', pieceG: 10, cards: 'Drawer 3', dyed: [['rustStake', OWN]] },
  {
    daysBefore: 187,
    fibre: 'silk',
    method: 'threeStage',
    pieceG: 4,
    cards: 'Binder B',
    dyed: [['pebble heather moss lamp', OWN]],
  },
  { daysBefore: 168, fibre: 'merinoSilk', method: 'kettle', pieceG: 5, cards: 'Binder B', dyed: [['bilberry', OWN]] },
  { daysBefore: 148, fibre: 'linen', method: 'pot', pieceG: 10, cards: 'Drawer 3', dyed: [['indigoRope', OWN]] },
  {
    daysBefore: 133,
    fibre: 'gauze',
    method: 'ice',
    pieceG: 30,
    cards: 'Flat file',
    dyed: [['indigoRope heatherRope', OWN]],
  },
  {
    daysBefore: 112,
    fibre: 'flannel',
    method: 'kettle',
    pieceG: 12,
    cards: 'Binder B',
    dyed: [['petrel curlew dulse kelpPath', OWN]],
  },
  { daysBefore: 97, fibre: 'linen', method: 'dip', pieceG: 60, cards: 'Flat file', dyed: [['indigoRope', OWN]] },
  {
    daysBefore: 74,
    fibre: 'linen',
    method: 'lowWater',
    pieceG: 30,
    cards: 'Flat file',
    dyed: [['eelgrass madder', OWN]],
  },
  { daysBefore: 52, fibre: 'linen', method: 'paint', pieceG: 40, cards: 'Flat file', dyed: [['bottle', OWN]] },
  { daysBefore: 31, fibre: 'merino', method: 'speckle', pieceG: 10, cards: 'Binder B', dyed: [['M54', [1.2]]] },
  {
    daysBefore: 12,
    fibre: 'merinoSilk',
    method: 'threeStage',
    pieceG: 5,
    cards: 'Binder B',
    dyed: [['pebble', [0.25, 0.5]]],
  },
];

const THOUGHTS = [
  'Level. Good in north light.',
  'Dries lighter than it looks wet.',
  'A shade greener under lamps.',
  'Wanted again at the spring fair.',
  'Washed clear in two rinses.',
  'Third rinse still coloured.',
  'Nicer than planned.',
  'Edges took more than the middle.',
];

/** A card of the library, and what a picture of it shows. */
export interface Card {
  swatchId: number;
  shade: string;
  fibre: string;
  method: string;
  madeAt: number;
  /** Dyed at the depth that the recipe says. */
  isOwnDepth: boolean;
  tones: Tone[];
  ground: Ground;
}

export interface Sampling {
  at: number;
  dye: () => Card[];
}

/** The sampling days of the year, each to be done when its day has come. */
export function samplingDays(s: Sowing, n: Named, recipes: Recipes): Sampling[] {
  let number = 0;
  return DAYS.map((day) => {
    const at = workingHour(s, day.daysBefore, 15.5);
    return {
      at,
      dye: () => {
        s.clock.at = at;
        const cards: Card[] = [];
        for (const [shades, depths] of day.dyed) {
          for (const shade of shades.split(' ')) {
            for (const depth of depths) {
              number += 1;
              cards.push(oneCard(s, n, recipes, day, shade, depth, number));
            }
          }
        }
        return cards;
      },
    };
  });
}

function oneCard(
  s: Sowing,
  n: Named,
  recipes: Recipes,
  day: SamplingDay,
  shade: string,
  depth: number | null,
  number: number,
): Card {
  s.clock.at += 60_000;
  const chance = chanceOf(`card ${number} ${shade} ${day.fibre}`);
  const revision = revisionAt(recipes, shade, s.clock.at);
  const depthPct = depth ?? revision.depth;
  const dyePct: DyePct = asItCameOut(
    Object.fromEntries(revision.shares.map(([code, share]) => [code, depthPct * share])),
    chance,
  );
  const ground = n.grounds.get(day.fibre);
  if (!ground) throw new Error(`the seed knows no ground ${day.fibre}`);
  const tones = tonesOf(day.method, [{ dyePct, share: 1 }], chance);
  const name = SHADES.get(shade)?.name.replace(', alone', '') ?? shade;
  const by = chance.happens(0.6) ? s.owner : s.dyer;
  const swatch = addSwatch(
    s.deps.db,
    {
      code: null,
      name,
      revisionId: revision.revisionId,
      depthPpm: Math.round(depthPct * 10_000),
      fibreId: named(n.fibres, day.fibre),
      methodId: named(n.methods, day.method),
      lotId: null,
      dryMassMg: day.pieceG * 1000,
      dyedOn: dayOf(s.clock.at, s.zone),
      cardPlace: `${day.cards}, card ${1 + ((number - 1) % 40)}`,
      photoId: null,
      rating: chance.happens(0.45) ? chance.pick([3, 4, 4, 5, 5, 2]) : null,
      note: chance.happens(0.3) ? chance.pick(THOUGHTS) : '',
      stockLotIds: revision.shares.map(([code]) => {
        const item = { kind: 'dye' as const, id: named(n.dyes, code) };
        keepInStock(s, item, code, 5000);
        const container = containersOf(s, item)[0];
        if (!container) throw new Error(`no container of ${code}`);
        return container.id;
      }),
      readings: readingsOf(tones, ground, chance),
    },
    by,
    s.clock.at,
  );
  return {
    swatchId: swatch.id,
    shade,
    fibre: day.fibre,
    method: day.method,
    madeAt: s.clock.at,
    isOwnDepth: depth === null,
    tones,
    ground,
  };
}
