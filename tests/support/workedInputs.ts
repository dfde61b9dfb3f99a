import { CALCULATIONS, type CalculationName } from '../../server/calculators/table.ts';

/** An input that is itself the answer of a calculation, so that nothing is converted or worked out by hand. */
export interface Worked {
  readonly by: CalculationName;
  readonly inputs: Readonly<Record<string, number | string>>;
  readonly answer: string;
}

/** Inputs of a calculation in which any number may be worked out by another one. */
export type Given<Input> = Input extends number
  ? Input | Worked
  : Input extends readonly (infer Item)[]
    ? readonly Given<Item>[]
    : Input extends object
      ? { readonly [Key in keyof Input]: Given<Input[Key]> }
      : Input;

/** A figure in the unit in which it is printed, and the unit in which the calculation takes it. */
export const printed = (value: number, from: string, to: string): Worked => ({
  by: 'unit-conversion',
  inputs: { value, from, to },
  answer: 'value',
});

/** Liquor in mL of so many grams of goods at a liquor ratio. */
export const liquorOf = (goodsDryMassG: number, liquorRatioLPerKg: number): Worked => ({
  by: 'liquor-volume',
  inputs: { goodsDryMassG, liquorRatioLPerKg },
  answer: 'liquorVolumeMl',
});

export type Ask = (name: CalculationName, inputs: unknown) => Promise<object>;

/** The calculations as functions. */
export const askFunction: Ask = async (name, inputs) => CALCULATIONS[name].answer(inputs);

const isWorked = (value: object): value is Worked => 'by' in value && 'answer' in value;

/** The inputs as plain numbers, everything that is worked out asked for. */
export async function plainInputs(given: unknown, ask: Ask): Promise<unknown> {
  if (typeof given !== 'object' || given === null) return given;
  if (isWorked(given)) return fieldOf(await ask(given.by, given.inputs), given.answer);
  if (Array.isArray(given)) return Promise.all(given.map((one) => plainInputs(one, ask)));
  const entries = Object.entries(given).map(async ([key, value]) => [key, await plainInputs(value, ask)] as const);
  return Object.fromEntries(await Promise.all(entries));
}

const fieldOf = (answer: object, field: string): unknown => Object.entries(answer).find(([key]) => key === field)?.[1];

/** What the row's calculation answers, in the unit of the print. */
export async function printedAnswer(
  row: { calculation: CalculationName; inputs: unknown; answer: string; answerAs?: object },
  ask: Ask,
): Promise<number[]> {
  const answer = await ask(row.calculation, await plainInputs(row.inputs, ask));
  const values = [fieldOf(answer, row.answer)].flat();
  const converted = values.map(async (value) =>
    row.answerAs === undefined ? value : fieldOf(await ask('unit-conversion', { value, ...row.answerAs }), 'value'),
  );
  return (await Promise.all(converted)).map(Number);
}
