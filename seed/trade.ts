import type { OrderInput } from '../server/orders/schemas.ts';
import type { Slip } from './dyeing.ts';

/* Who orders, and what was dyed in the year. Names are invented. Days count back from the sowing. */

export const CUSTOMERS = [
  {
    key: 'guild',
    name: 'Lower Reach Weavers’ Guild',
    contact: 'orders by letter; ask for the secretary',
    note: 'Exact shades. Their grey is the estuary grey.',
  },
  {
    key: 'cafe',
    name: 'Ferry Lane Café',
    contact: 'at the slip, closed on Mondays',
    note: 'Napkins: pays on delivery.',
  },
  {
    key: 'playhouse',
    name: 'Playhouse Costume Shop',
    contact: 'stage door, mornings',
    note: 'Sends its own cloth, usually damp from their wash.',
  },
  { key: 'stitchers', name: 'Saltings Embroiderers’ Circle', contact: 'meets on first Thursdays', note: '' },
  {
    key: 'guesthouse',
    name: 'Guest House at the Sluice',
    contact: 'by telephone, evenings',
    note: 'Tablecloths and napkins to match.',
  },
  {
    key: 'knitters',
    name: 'Longshore Knitters',
    contact: 'market stall on Saturdays',
    note: 'Takes seconds for the sample box.',
  },
] as const;

export type CustomerKey = (typeof CUSTOMERS)[number]['key'];

/** What is made: goods, how they are dyed, what they weigh, what is asked for them. */
export interface Product {
  fibre: string;
  method: string;
  /** Words for so many. */
  words: (count: number) => string;
  gramsEach: number;
  mass: 'weighedDry' | 'weighedDamp' | 'fromArea' | 'fromPutUps' | 'stated';
  /** Of a piece, for goods by area. */
  lengthMm?: number;
  /** Metres have no pieces. */
  counted: boolean;
  owner: 'studio' | 'customer';
  price: number;
}

export const PRODUCTS: Readonly<Record<string, Product>> = {
  napkins: {
    fibre: 'napkin',
    method: 'pot',
    words: (c) => `${c} napkins, 45 cm, hemmed`,
    gramsEach: 41.5,
    mass: 'weighedDry',
    counted: true,
    owner: 'studio',
    price: 13.5,
  },
  tablecloths: {
    fibre: 'linen',
    method: 'pot',
    words: (c) => `${c} tablecloths, 1.5 × 2.4 m`,
    gramsEach: 684,
    mass: 'fromArea',
    lengthMm: 2400,
    counted: true,
    owner: 'studio',
    price: 96,
  },
  linen: {
    fibre: 'linen',
    method: 'pot',
    words: (c) => `${c} m linen`,
    gramsEach: 285,
    mass: 'weighedDry',
    counted: false,
    owner: 'customer',
    price: 21,
  },
  hanks: {
    fibre: 'merinoSilk',
    method: 'kettle',
    words: (c) => `${c} hanks merino/silk, 100 g`,
    gramsEach: 100,
    mass: 'fromPutUps',
    counted: true,
    owner: 'studio',
    price: 27,
  },
  paleHanks: {
    fibre: 'merinoSilk',
    method: 'threeStage',
    words: (c) => `${c} hanks merino/silk, 100 g`,
    gramsEach: 100,
    mass: 'fromPutUps',
    counted: true,
    owner: 'studio',
    price: 26,
  },
  speckled: {
    fibre: 'merino',
    method: 'speckle',
    words: (c) => `${c} sock hanks, speckled`,
    gramsEach: 100,
    mass: 'fromPutUps',
    counted: true,
    owner: 'studio',
    price: 29,
  },
  gauze: {
    fibre: 'gauze',
    method: 'pot',
    words: (c) => `${c} m theatre gauze, 3 m wide`,
    gramsEach: 180,
    mass: 'weighedDamp',
    counted: false,
    owner: 'customer',
    price: 14.5,
  },
  icedGauze: {
    fibre: 'gauze',
    method: 'ice',
    words: (c) => `${c} m theatre gauze, ice-dyed`,
    gramsEach: 180,
    mass: 'weighedDry',
    counted: false,
    owner: 'customer',
    price: 26,
  },
  icedNapkins: {
    fibre: 'napkin',
    method: 'ice',
    words: (c) => `${c} napkins, ice-dyed`,
    gramsEach: 41.5,
    mass: 'weighedDry',
    counted: true,
    owner: 'studio',
    price: 17.5,
  },
  drill: {
    fibre: 'drill',
    method: 'pot',
    words: (c) => `${c} costume lengths of drill, 2.5 m`,
    gramsEach: 975,
    mass: 'fromArea',
    lengthMm: 2500,
    counted: true,
    owner: 'customer',
    price: 34,
  },
  dipped: {
    fibre: 'linen',
    method: 'dip',
    words: (c) => `${c} curtains, graded`,
    gramsEach: 610,
    mass: 'weighedDry',
    counted: true,
    owner: 'studio',
    price: 118,
  },
  mottled: {
    fibre: 'linen',
    method: 'lowWater',
    words: (c) => `${c} bags of linen, mottled`,
    gramsEach: 130,
    mass: 'weighedDry',
    counted: true,
    owner: 'studio',
    price: 24,
  },
  scarves: {
    fibre: 'silk',
    method: 'kettle',
    words: (c) => `${c} silk scarves`,
    gramsEach: 32,
    mass: 'weighedDry',
    counted: true,
    owner: 'studio',
    price: 46,
  },
  painted: {
    fibre: 'linen',
    method: 'paint',
    words: (c) => `${c} banners, painted`,
    gramsEach: 240,
    mass: 'stated',
    counted: true,
    owner: 'studio',
    price: 140,
  },
  flannel: {
    fibre: 'flannel',
    method: 'kettle',
    words: (c) => `${c} m flannel for cloaks`,
    gramsEach: 360,
    mass: 'weighedDamp',
    counted: false,
    owner: 'customer',
    price: 26,
  },
};

export type ProductKey = keyof typeof PRODUCTS & string;

/** One lot of the year. Several shades are several colours of the piece. */
export interface LotOfYear {
  product: ProductKey;
  count: number;
  shade: string | readonly string[];
  /** Depth as a part of the recipe's own. */
  depth?: number;
  slip?: Slip;
  remarks?: readonly (readonly [step: number, kind: 'note' | 'deviation', text: string])[];
  /** Pieces that were not first quality. */
  seconds?: number;
  scrap?: number;
  rework?: number;
  outcomeNote?: string;
  doDifferently?: string;
  abandon?: string;
  /** The whole bath, as a factor: a lot that went wrong. */
  bath?: number;
  repeatsLast?: true;
  swatch?: string;
  photo?: true;
}

export interface OrderOfYear {
  ordered: number;
  due: number;
  customer: CustomerKey;
  note?: string;
  formula?: OrderInput['lines'][number]['toleranceFormula'];
  limit?: number;
  lines: readonly (LotOfYear & { wantedNote?: string; extra?: readonly LotOfYear[] })[];
}

export const ORDERS: readonly OrderOfYear[] = [
  {
    ordered: 329,
    due: 301,
    customer: 'guild',
    formula: 'CMC(2:1)',
    limit: 1.2,
    lines: [
      {
        product: 'napkins',
        count: 24,
        shade: 'estuary',
        remarks: [[2, 'note', 'Colour of the bath gone blue before the yellow took.']],
      },
      { product: 'tablecloths', count: 2, shade: 'estuary' },
    ],
  },
  {
    ordered: 318,
    due: 296,
    customer: 'cafe',
    formula: 'CIEDE2000',
    limit: 2,
    lines: [{ product: 'napkins', count: 36, shade: 'ochre', slip: 'misread' }],
  },
  {
    ordered: 307,
    due: 280,
    customer: 'knitters',
    formula: 'by eye',
    lines: [
      { product: 'hanks', count: 8, shade: 'moss' },
      {
        product: 'hanks',
        count: 8,
        shade: 'foxBerry',
        slip: 'deeper',
        remarks: [[3, 'deviation', 'Rise took 70 minutes: the ring was on low.']],
      },
    ],
  },
  {
    ordered: 297,
    due: 274,
    customer: 'playhouse',
    note: 'For the marsh scene.',
    lines: [
      {
        product: 'gauze',
        count: 18,
        shade: 'slate',
        remarks: [[1, 'note', 'Came damp, smelling of their softener. Scoured twice.']],
        photo: true,
      },
    ],
  },
  {
    ordered: 286,
    due: 262,
    customer: 'stitchers',
    formula: 'CIEDE2000',
    limit: 1.5,
    lines: [
      { product: 'linen', count: 6, shade: 'madder' },
      { product: 'scarves', count: 10, shade: 'heather' },
    ],
  },
  {
    ordered: 275,
    due: 249,
    customer: 'guesthouse',
    formula: 'CMC(2:1)',
    limit: 1.5,
    lines: [
      {
        product: 'tablecloths',
        count: 3,
        shade: 'eelgrass',
        seconds: 1,
        outcomeNote: 'One with a pale fold line.',
        doDifferently: 'Open the folds before the soda goes in.',
      },
      { product: 'napkins', count: 30, shade: 'eelgrass' },
    ],
  },
  {
    ordered: 264,
    due: 240,
    customer: 'cafe',
    formula: 'CIEDE2000',
    limit: 2,
    lines: [
      {
        product: 'napkins',
        count: 24,
        shade: 'seaGlass',
        remarks: [[4, 'note', 'Let it fix ten minutes longer: turquoise.']],
      },
    ],
  },
  {
    ordered: 254,
    due: 231,
    customer: 'guild',
    formula: 'CMC(2:1)',
    limit: 1.2,
    lines: [
      { product: 'napkins', count: 24, shade: 'estuary' },
      { product: 'hanks', count: 6, shade: 'petrel' },
    ],
  },
  {
    ordered: 243,
    due: 218,
    customer: 'knitters',
    formula: 'by eye',
    lines: [
      { product: 'speckled', count: 8, shade: 'foxBerry', photo: true },
      { product: 'hanks', count: 10, shade: 'bilberry', slip: 'weighAgain' },
    ],
  },
  {
    ordered: 232,
    due: 211,
    customer: 'playhouse',
    formula: 'by eye',
    note: 'Storm, act three.',
    lines: [
      { product: 'icedGauze', count: 9, shade: ['indigoRope', 'slate'], photo: true, swatch: 'Storm gauze' },
      { product: 'drill', count: 2, shade: 'tidewrack' },
    ],
  },
  {
    ordered: 221,
    due: 196,
    customer: 'stitchers',
    formula: 'CIEDE2000',
    limit: 1.5,
    lines: [
      { product: 'linen', count: 5, shade: 'blush' },
      { product: 'linen', count: 5, shade: 'saltmarsh' },
    ],
  },
  {
    ordered: 211,
    due: 188,
    customer: 'cafe',
    lines: [{ product: 'icedNapkins', count: 24, shade: 'tidewrack', photo: true, swatch: 'Melted tidewrack' }],
  },
  {
    ordered: 201,
    due: 176,
    customer: 'guesthouse',
    formula: 'CMC(2:1)',
    limit: 1.5,
    lines: [
      {
        product: 'napkins',
        count: 36,
        shade: 'rustStake',
        bath: 0.66,
        rework: 36,
        outcomeNote: 'Far too pale: the soda ash jar had drawn damp and was weighed as dry.',
        doDifferently: 'Keep the soda ash closed; spot-test the pH before the goods go in.',
        extra: [
          {
            product: 'napkins',
            count: 36,
            shade: 'rustStake',
            depth: 0.52,
            repeatsLast: true,
            remarks: [[0, 'note', 'Second time: half the depth on top of the first dyeing, fresh soda ash.']],
          },
        ],
      },
    ],
  },
  {
    ordered: 190,
    due: 166,
    customer: 'knitters',
    formula: 'by eye',
    lines: [
      { product: 'hanks', count: 8, shade: 'lamp', swatch: 'Lamp room, big kettle' },
      { product: 'paleHanks', count: 8, shade: 'pebble' },
    ],
  },
  {
    ordered: 180,
    due: 158,
    customer: 'guild',
    formula: 'CMC(2:1)',
    limit: 1.2,
    lines: [
      { product: 'napkins', count: 24, shade: 'indigoRope', slip: 'startedTwice' },
      { product: 'hanks', count: 6, shade: 'heather' },
    ],
  },
  {
    ordered: 169,
    due: 142,
    customer: 'playhouse',
    note: 'Twelve cloaks.',
    formula: 'by eye',
    lines: [
      {
        product: 'flannel',
        count: 7,
        shade: 'curlew',
        remarks: [
          [3, 'deviation', 'Kettle too small: dyed in two halves from one bath, second half 20 minutes longer.'],
        ],
      },
      { product: 'drill', count: 3, shade: 'bottle' },
    ],
  },
  {
    ordered: 158,
    due: 137,
    customer: 'cafe',
    formula: 'CIEDE2000',
    limit: 2,
    lines: [
      {
        product: 'napkins',
        count: 24,
        shade: 'ochre',
        seconds: 24,
        outcomeNote: 'Spotted: undissolved yellow. The café took none; the knitters will have them for the stall.',
        doDifferently: 'Paste the yellow with warm water and strain it through the stocking.',
      },
    ],
  },
  {
    ordered: 147,
    due: 121,
    customer: 'stitchers',
    formula: 'CIEDE2000',
    limit: 1.5,
    lines: [{ product: 'linen', count: 6, shade: 'wineDark', slip: 'deeper' }],
  },
  {
    ordered: 136,
    due: 112,
    customer: 'guesthouse',
    formula: 'by eye',
    lines: [
      { product: 'dipped', count: 4, shade: 'indigoRope', photo: true, swatch: 'Curtain, graded' },
      { product: 'mottled', count: 6, shade: 'madder' },
    ],
  },
  {
    ordered: 125,
    due: 102,
    customer: 'knitters',
    formula: 'by eye',
    lines: [
      { product: 'hanks', count: 12, shade: 'kelpPath' },
      { product: 'speckled', count: 6, shade: 'bilberry', photo: true },
    ],
  },
  {
    ordered: 114,
    due: 91,
    customer: 'cafe',
    formula: 'CIEDE2000',
    limit: 2,
    lines: [{ product: 'napkins', count: 30, shade: 'estuary', slip: 'misread' }],
  },
  {
    ordered: 103,
    due: 78,
    customer: 'guild',
    formula: 'CMC(2:1)',
    limit: 1.2,
    lines: [
      { product: 'tablecloths', count: 2, shade: 'bottle' },
      { product: 'napkins', count: 24, shade: 'bottle', swatch: 'Bottle bank on napkins' },
    ],
  },
  {
    ordered: 92,
    due: 66,
    customer: 'playhouse',
    formula: 'by eye',
    lines: [
      { product: 'icedGauze', count: 8, shade: ['wineDark', 'heatherRope'], photo: true, swatch: 'Bruised sky' },
      { product: 'gauze', count: 12, shade: 'rustStake' },
    ],
  },
  {
    ordered: 80,
    due: 55,
    customer: 'stitchers',
    formula: 'CIEDE2000',
    limit: 1.5,
    lines: [
      { product: 'scarves', count: 12, shade: 'dulse' },
      { product: 'linen', count: 4, shade: 'thrift', scrap: 1, outcomeNote: 'A corner caught in the mangle.' },
    ],
  },
  {
    ordered: 66,
    due: 40,
    customer: 'guesthouse',
    formula: 'by eye',
    lines: [
      {
        product: 'painted',
        count: 3,
        shade: ['bottle', 'ochre'],
        photo: true,
        remarks: [[3, 'note', 'Humid day: the paint ran under the resist on the second banner.']],
      },
    ],
  },
  {
    ordered: 52,
    due: 27,
    customer: 'knitters',
    formula: 'by eye',
    lines: [
      { product: 'hanks', count: 10, shade: 'foxBerry' },
      { product: 'hanks', count: 8, shade: 'petrel', slip: 'keepAsMade' },
    ],
  },
  {
    ordered: 38,
    due: -5,
    customer: 'guild',
    formula: 'CMC(2:1)',
    limit: 1.2,
    lines: [
      { product: 'napkins', count: 48, shade: 'estuary', slip: 'moreGoods', swatch: 'Estuary grey, revision 3' },
      { product: 'tablecloths', count: 2, shade: 'indigoRope' },
    ],
  },
];

/** Lots that no order asked for: stall, trials, and the one that was given up. */
export const OWN_LOTS: readonly (LotOfYear & { day: number })[] = [
  { day: 322, product: 'hanks', count: 6, shade: 'moss', remarks: [[0, 'note', 'For the stall.']] },
  { day: 290, product: 'icedNapkins', count: 12, shade: 'seaAster', photo: true },
  { day: 268, product: 'speckled', count: 6, shade: 'bilberry', photo: true },
  { day: 207, product: 'mottled', count: 8, shade: 'eelgrass', photo: true },
  { day: 183, product: 'hanks', count: 8, shade: 'dulse', swatch: 'Dulse and sand, eight hanks' },
  {
    day: 153,
    product: 'scarves',
    count: 8,
    shade: 'kelpPath',
    abandon: 'The burner went out overnight and the silk lay in cold acid; not worth finishing.',
    remarks: [[3, 'deviation', 'Gas bottle empty at 60 °C.']],
  },
  { day: 128, product: 'icedNapkins', count: 18, shade: ['heatherRope', 'seaGlass'], photo: true, swatch: 'Tide pool' },
  { day: 108, product: 'hanks', count: 6, shade: 'curlew' },
  { day: 45, product: 'hanks', count: 6, shade: 'bilberry' },
  { day: 24, product: 'icedNapkins', count: 12, shade: 'rustStake', photo: true },
  { day: 17, product: 'hanks', count: 8, shade: 'dulse' },
  { day: 10, product: 'mottled', count: 6, shade: 'seaHolly', photo: true },
  { day: 6, product: 'paleHanks', count: 6, shade: 'pebble' },
  { day: 3, product: 'napkins', count: 12, shade: 'madder' },
];
