import { z } from 'zod';

/* Fields of calculations. Each carries its label (`title`) and unit (`x-unit`) in its schema, so that the API document,
   the list of calculations and a page all say the same. A range is stated here where one field alone decides it; what
   depends on two fields is for the calculation to refuse. */

const number = (label: string, unit: string | null) =>
  z
    .number({ error: ({ input }) => (input === undefined ? 'This is needed.' : 'This must be a number.') })
    .meta(unit === null ? { title: label } : { title: label, 'x-unit': unit });

export const anyNumber = number;
export const positive = (label: string, unit: string | null) =>
  number(label, unit).positive('This must be more than 0.');
export const fromZero = (label: string, unit: string | null) => number(label, unit).min(0, 'This must be at least 0.');
export const between = (label: string, unit: string | null, min: number, max: number) =>
  number(label, unit).min(min, `This must be at least ${min}.`).max(max, `This must be at most ${max}.`);
/** More than 0, with an upper limit. */
export const upTo = (label: string, unit: string | null, max: number) =>
  positive(label, unit).max(max, `This must be at most ${max}.`);
export const wholeCount = (label: string) =>
  number(label, null).int('This must be a whole number.').min(1, 'This must be at least 1.');

/** A percentage of which something must be left: shrinkage (which may be growth), moisture content. */
export const under100 = (label: string, min: number) =>
  number(label, '%').min(min, `This must be at least ${min}.`).lt(100, 'This must be less than 100.');

export const choice = <const Names extends readonly [string, ...string[]] | string[]>(label: string, names: Names) =>
  z
    .enum(names, {
      error: ({ input }) => (input === undefined ? 'This is needed.' : `This must be one of ${names.join(', ')}.`),
    })
    .meta({ title: label });

export const words = (label: string) =>
  z
    .string({ error: ({ input }) => (input === undefined ? 'This is needed.' : 'This must be text.') })
    .max(200, 'This must be at most 200 characters.')
    .meta({ title: label });

export const list = <Item extends z.ZodType>(label: string, unit: string | null, item: Item) =>
  z
    .array(item, { error: ({ input }) => (input === undefined ? 'This is needed.' : 'This must be a list.') })
    .min(1, 'This must have at least one entry.')
    .max(1000, 'This must have at most 1000 entries.')
    .meta(unit === null ? { title: label } : { title: label, 'x-unit': unit });

/** The inputs of a calculation, or a labelled group of fields within them. Any other key is refused by its name. */
export function inputs<Shape extends z.core.$ZodLooseShape>(shape: Shape, label?: string) {
  const names = Object.keys(shape).join(', ');
  const missing = label === undefined ? 'This must be' : 'This is needed:';
  const object = z.strictObject(shape, {
    error: (issue) =>
      issue.code === 'unrecognized_keys'
        ? `${issue.keys.join(', ')} is not one of ${names}.`
        : `${issue.input === undefined ? missing : 'This must be'} a JSON object with ${names}.`,
  });
  return label === undefined ? object : object.meta({ title: label });
}

/** What is said when none of several inputs is meant: the field `by` tells them apart. */
export const oneOfSeveral = (by: string) => ({
  error: ({ code }: { code?: string | undefined }) =>
    code === 'invalid_union'
      ? `${by} must be given, as one of those listed.`
      : `This must be a JSON object with ${by}.`,
});

export const outputs = <Shape extends z.core.$ZodLooseShape>(shape: Shape) => z.object(shape);

/* Fields that several families share. */
export const goodsDryMassG = positive('Dry goods', 'g');
export const depthPct = fromZero('Depth, on weight of goods', '%');
export const owgPct = fromZero('On weight of goods', '%');
export const concGPerL = fromZero('Concentration in the bath', 'g/L');
export const liquorVolumeMl = positive('Liquor', 'mL');
export const liquorRatioLPerKg = positive('Liquor ratio', 'L/kg');
export const stockStrengthPct = upTo('Strength of the stock solution', '% w/v', 100);
export const regainPct = fromZero('Regain', '%');
export const massG = anyNumber('Mass', 'g');
