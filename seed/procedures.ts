import { createMethod } from '../server/methods/saveMethod.ts';
import type { MethodInput } from '../server/methods/schemas.ts';
import { type Named, named, type Sowing } from './sowing.ts';

/* Methods of the invented studio. Rates and times: immersion after a reactive-dye studio's and a dye maker's sheets (salt
   50 g/L, soda ash 15 g/L, 20 min + 3 × 5 min + 50 min at 40 °C); low water after P. Burch, Low water immersion; ice after a
   quilt guild's technique sheet (soda soak, melt, 24 h batching); acid and metal-complex after wool-dye suppliers' sheets
   (acid and sodium sulphate on weight of goods; up, 93 °C, down); ammonium sulphate 3 % owf after P. Burch. */

type Line = readonly [
  code: string,
  vessel: 'bath' | 'soak',
  basis: MethodInput['auxiliaries'][number]['basis'],
  amount: number,
];
type Step = readonly [name: string, minutes: number, tempC: number | null, handsOnMin: number, note?: string];
type Field = readonly [label: string, kind: MethodInput['fields'][number]['kind'], unit?: string, choices?: string[]];

interface Procedure {
  name: string;
  dyeClass: MethodInput['dyeClass'];
  summary: string;
  bathLPerKg?: number;
  soakLPerKg?: number;
  lossPct?: number;
  cautions: string;
  steps: readonly Step[];
  lines: readonly Line[];
  fields?: readonly Field[];
}

const UNITS = { owg: '% owg', gPerL: 'g/L', mlPerL: 'mL/L', fixedMass: 'g', fixedVolume: 'mL' } as const;
const ALKALI = 'Goggles and gloves with soda ash; it warms as it dissolves.';
const COLD_FIRST = 'Rinse salt and alkali out cold before any hot water, or the loose dye stains.';

const PROCEDURES: Readonly<Record<string, Procedure>> = {
  pot: {
    name: 'Pot dyeing, reactive, 20:1',
    dyeClass: 'reactive',
    summary: 'Even shades on linen and cotton. The reference of the library.',
    bathLPerKg: 20,
    cautions: `${ALKALI}\n${COLD_FIRST}`,
    steps: [
      ['Wet out', 45, 30, 5, 'Warm water and detergent until it sinks.'],
      ['Salt and dye', 20, 35, 20, 'Keep it moving.'],
      ['Soda ash, three parts', 15, 40, 10, 'Five minutes apart, beside the goods and not on them.'],
      ['Fix', 50, 40, 15, 'Turn every five minutes.'],
      ['Cold rinse', 15, 15, 12],
      ['Hot wash', 40, 60, 15, 'Two baths with detergent.'],
    ],
    lines: [
      ['SALT', 'bath', 'gPerL', 50],
      ['SODA', 'bath', 'gPerL', 15],
      ['DETN', 'bath', 'mlPerL', 1],
    ],
  },
  lowWater: {
    name: 'Low-water dyeing, reactive',
    dyeClass: 'reactive',
    summary: 'Crumpled goods, little liquor, soda ash last: a mottled, watery ground.',
    bathLPerKg: 3,
    lossPct: 3,
    cautions: `${ALKALI}\n${COLD_FIRST}`,
    steps: [
      ['Scour and spin', 30, 60, 10],
      ['Crumple and pour the dye', 15, 22, 15],
      ['Wait', 30, 22, 2],
      ['Soda ash over it', 10, 22, 8],
      ['Leave to fix', 120, 24, 2],
      ['Cold rinse', 20, 15, 15],
      ['Hot wash', 40, 60, 15],
    ],
    lines: [
      ['SODA', 'bath', 'gPerL', 25],
      ['DETN', 'bath', 'fixedVolume', 10],
    ],
    fields: [
      ['Vessel', 'text'],
      ['How tight', 'choice', '', ['loose', 'hand-tight', 'pressed']],
    ],
  },
  ice: {
    name: 'Ice dyeing, reactive',
    dyeClass: 'reactive',
    summary: 'Powder and ice on soda-soaked cloth. Blends part into their colours.',
    soakLPerKg: 8,
    lossPct: 12,
    cautions: `Dry powder over open goods: fitted respirator, still air, everybody else out.\n${ALKALI}\n${COLD_FIRST}`,
    steps: [
      ['Soda soak', 25, 22, 6],
      ['Wring, fold and set on the rack', 20, 20, 20],
      ['Ice and powder', 15, null, 15],
      ['Melt', 300, 18, 5],
      ['Batch, covered', 1440, 22, 2, '24 hours, not under 20 °C.'],
      ['Cold rinse', 30, 15, 20],
      ['Hot wash', 45, 60, 15],
    ],
    lines: [['SODA', 'soak', 'gPerL', 40]],
    fields: [
      ['Ice', 'mass', 'kg'],
      ['Form of the ice', 'choice', '', ['cubes', 'crushed', 'snow']],
      ['Powder', 'choice', '', ['over the ice', 'under the ice']],
      ['Rack or pool', 'choice', '', ['on the rack', 'in the melt']],
      ['Fold', 'text'],
      ['Melted after', 'duration', 'h'],
      ['Pick-up after wringing', 'number', '%'],
    ],
  },
  paint: {
    name: 'Hand painting, reactive',
    dyeClass: 'reactive',
    summary: 'Thickened dye with urea by brush, batched damp under foil.',
    bathLPerKg: 2,
    soakLPerKg: 6,
    lossPct: 8,
    cautions: `${ALKALI}\n${COLD_FIRST}\nPaint with alkali in it is spent within hours: mix what will be used.`,
    steps: [
      ['Soda soak and line-dry', 90, 22, 12],
      ['Mix the paints', 30, 22, 30],
      ['Paint', 90, 22, 90],
      ['Batch under foil', 960, 23, 3],
      ['Cold rinse', 30, 15, 20],
      ['Hot wash', 45, 60, 15],
    ],
    lines: [
      ['SODA', 'soak', 'gPerL', 30],
      ['UREA', 'bath', 'gPerL', 110],
      ['ALGI', 'bath', 'gPerL', 25],
    ],
    fields: [
      ['Brush or squeegee', 'text'],
      ['Room', 'temperature', '°C'],
    ],
  },
  dip: {
    name: 'Dip dyeing, graded, reactive',
    dyeClass: 'reactive',
    summary: 'Lowered by steps: deepest at the hem, bare at the top.',
    bathLPerKg: 24,
    cautions: `${ALKALI}\n${COLD_FIRST}`,
    steps: [
      ['Wet out and mark the levels', 45, 25, 12],
      ['Lower by steps', 40, 35, 40, 'Ends about 35 min, centre 5 min.'],
      ['Soda ash, last third', 15, 40, 10],
      ['Fix', 40, 40, 12],
      ['Cold rinse, pale end up', 15, 15, 15],
      ['Hot wash', 40, 60, 15],
    ],
    lines: [
      ['SALT', 'bath', 'gPerL', 40],
      ['SODA', 'bath', 'gPerL', 15],
      ['DETN', 'bath', 'mlPerL', 1],
    ],
    fields: [
      ['Steps', 'number', 'dips'],
      ['Deepest at', 'choice', '', ['hem', 'top', 'middle']],
      ['Height of the grading', 'number', 'cm'],
    ],
  },
  kettle: {
    name: 'Kettle, citric acid, wool and silk',
    dyeClass: 'metalComplex',
    summary: 'One slow rise, half of the acid late. Even on hanks, softly uneven on flannel.',
    bathLPerKg: 30,
    cautions: 'No shocks and no stirring: wool felts.\nCollect the bath: these dyes hold metal.',
    steps: [
      ['Wet out', 45, 30, 5],
      ['Acid, first half', 15, 40, 5],
      ['Dye and slow rise', 50, 85, 15, 'A degree a minute.'],
      ['Acid, second half, hold', 40, 88, 8],
      ['Cool in the bath', 120, 40, 2],
      ['Rinse and spin', 20, 30, 12],
    ],
    lines: [
      ['GLAU', 'bath', 'owg', 5],
      ['CITR', 'bath', 'owg', 2],
      ['DETN', 'bath', 'mlPerL', 0.5],
    ],
  },
  threeStage: {
    name: 'Metal-complex, up – hold – down',
    dyeClass: 'metalComplex',
    summary: 'Ammonium sulphate lets go of its acid on the way up. The level one, for pale greys.',
    bathLPerKg: 25,
    cautions: 'No shocks and no stirring: wool felts.\nCollect the bath: these dyes hold metal.',
    steps: [
      ['Wet out', 45, 30, 5],
      ['Up', 45, 93, 12],
      ['Hold', 45, 93, 6],
      ['Down', 40, 50, 4],
      ['Rinse and spin', 20, 35, 12],
    ],
    lines: [
      ['AMSU', 'bath', 'owg', 3],
      ['GLAU', 'bath', 'owg', 5],
      ['DETN', 'bath', 'mlPerL', 0.5],
    ],
    fields: [['pH at the start', 'number']],
  },
  speckle: {
    name: 'Speckle, dry powder on acid hanks',
    dyeClass: 'metalComplex',
    summary: 'Powder and carrier shaken onto damp, acid-soaked yarn, then steam.',
    soakLPerKg: 5,
    lossPct: 10,
    cautions:
      'Powder in the air: the worst of all methods for lungs. Fitted respirator, extraction, nobody else in the room.\nSteam burns: mitts, lid away from you.',
    steps: [
      ['Acid soak', 30, 30, 5],
      ['Spin and lay out', 15, 20, 12],
      ['Shake the powder', 25, 20, 25],
      ['Steam', 35, 98, 8],
      ['Cool', 90, 25, 1],
      ['Rinse and spin', 20, 30, 12],
    ],
    lines: [['CITR', 'soak', 'gPerL', 8]],
    fields: [
      ['Carrier to powder', 'text'],
      ['Sieve', 'choice', '', ['fine', 'middle', 'none']],
      ['Sides', 'choice', '', ['one', 'both']],
    ],
  },
};

/** Writes the methods into the studio's books. */
export function writeMethods({ deps: { db } }: Sowing, auxiliaries: Named['auxiliaries']): Named['methods'] {
  const methods = new Map<string, number>();
  for (const [key, p] of Object.entries(PROCEDURES)) {
    const row = createMethod(db, {
      name: p.name,
      dyeClass: p.dyeClass,
      summary: p.summary,
      bathMlPerKg: p.bathLPerKg === undefined ? null : p.bathLPerKg * 1000,
      soakMlPerKg: p.soakLPerKg === undefined ? null : p.soakLPerKg * 1000,
      lossPpm: (p.lossPct ?? 0) * 10_000,
      cautions: p.cautions,
      steps: p.steps.map(([name, minutes, tempC, handsOnMin, note = '']) => ({
        name,
        durationS: minutes * 60,
        tempC,
        handsOnS: handsOnMin * 60,
        note,
      })),
      auxiliaries: p.lines.map(([code, vessel, basis, amount]) => ({
        auxiliaryId: named(auxiliaries, code),
        vessel,
        basis,
        amountMilli: Math.round(amount * 1000),
        asTyped: `${amount} ${UNITS[basis]}`,
      })),
      fields: (p.fields ?? []).map(([label, kind, unit = '', choices = []]) => ({ label, kind, unit, choices })),
    });
    methods.set(key, row.id);
  }
  return methods;
}
