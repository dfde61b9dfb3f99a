import { dyeClasses, dyeClassNames } from '../../server/calc/classFit.ts';
import type { Option } from './field.ts';

/** The dye classes to choose from, by their names alone. */
export const dyeClassOptions: readonly Option[] = dyeClasses.map((value) => ({ value, label: dyeClassNames[value] }));
