import { auxiliaries } from './auxiliaries.ts';
import { bath } from './bath.ts';
import type { AnyCalculation } from './calculation.ts';
import { colour } from './colour.ts';
import { cost } from './cost.ts';
import { dye } from './dye.ts';
import { livingBath } from './livingBath.ts';
import { moisture } from './moisture.ts';
import { schedule } from './schedule.ts';
import { selling } from './selling.ts';
import { sets } from './sets.ts';
import { stock } from './stock.ts';
import { units } from './units.ts';
import { water } from './water.ts';
import { weighing } from './weighing.ts';
import { yarnAndCloth } from './yarnAndCloth.ts';

/** Every calculation by its name, which is the end of its address. A new one is an entry in its family's file. */
export const CALCULATIONS = {
  ...units,
  ...yarnAndCloth,
  ...moisture,
  ...dye,
  ...stock,
  ...bath,
  ...auxiliaries,
  ...weighing,
  ...schedule,
  ...colour,
  ...cost,
  ...livingBath,
  ...water,
  ...sets,
  ...selling,
};

export type CalculationName = keyof typeof CALCULATIONS;

/** Families in the order in which a person meets them. */
export const FAMILIES: readonly { title: string; calculations: Readonly<Record<string, AnyCalculation>> }[] = [
  { title: 'Units', calculations: units },
  { title: 'Yarn and cloth', calculations: yarnAndCloth },
  { title: 'Moisture', calculations: moisture },
  { title: 'Dye', calculations: dye },
  { title: 'Stock solutions', calculations: stock },
  { title: 'Bath', calculations: bath },
  { title: 'Auxiliaries', calculations: auxiliaries },
  { title: 'Weighing', calculations: weighing },
  { title: 'Schedule', calculations: schedule },
  { title: 'Colour', calculations: colour },
  { title: 'Cost', calculations: cost },
  { title: 'Baths that are kept', calculations: livingBath },
  { title: 'Water', calculations: water },
  { title: 'Sets', calculations: sets },
  { title: 'Selling', calculations: selling },
];
