import { distance } from 'fastest-levenshtein';
import { z } from 'zod';

/** Keys that a schema does not know are dropped by its parser, and a misspelt one with them: {"nmae": …} would be accepted, and
 *  what was meant would be lost without a word. So they are looked for in what was sent. */

type Fields = Record<string, string>;
type Schema = z.core.$ZodType;

/** Names every key of `sent` that the schema has no place for, under its own path. */
export function unknownKeys(schema: Schema, sent: unknown, path = ''): Fields {
  const { def } = (schema as z.core.$ZodTypes)._zod;
  switch (def.type) {
    case 'object':
      return isRecord(sent) ? ofObject(def, sent, path) : {};
    case 'array':
      return Array.isArray(sent) ? gathered(sent, (item, i) => unknownKeys(def.element, item, join(path, i))) : {};
    case 'tuple':
      return Array.isArray(sent) ? gathered(def.items, (item, i) => unknownKeys(item, sent[i], join(path, i))) : {};
    case 'record':
      return isRecord(sent)
        ? gathered(Object.entries(sent), ([key, value]) => unknownKeys(def.valueType, value, join(path, key)))
        : {};
    case 'union':
      return ofUnion(def.options, sent, path);
    case 'intersection':
      return inBoth(unknownKeys(def.left, sent, path), unknownKeys(def.right, sent, path));
    case 'pipe':
      return unknownKeys(def.in, sent, path);
    case 'lazy':
      return unknownKeys(def.getter(), sent, path);
    case 'optional':
    case 'nullable':
    case 'nonoptional':
    case 'default':
    case 'prefault':
    case 'catch':
    case 'readonly':
      return unknownKeys(def.innerType, sent, path);
    default:
      return {};
  }
}

function ofObject(def: z.core.$ZodObjectDef, sent: Record<string, unknown>, path: string): Fields {
  const open = def.catchall !== undefined && def.catchall._zod.def.type !== 'never';
  const known = Object.keys(def.shape);
  return gathered(Object.entries(sent), ([key, value]) => {
    const inner = Object.hasOwn(def.shape, key) ? def.shape[key] : undefined;
    if (inner) return unknownKeys(inner, value, join(path, key));
    return open ? {} : { [join(path, key)]: strangerWords(key, known) };
  });
}

/** What fits one of several shapes is held against that one; what fits none, against the one that knows most of it. */
function ofUnion(options: readonly Schema[], sent: unknown, path: string): Fields {
  const fitting = options.filter((option) => z.core.safeParse(option, sent).success);
  const found = (fitting.length > 0 ? fitting : options).map((option) => unknownKeys(option, sent, path));
  return found.toSorted((a, b) => Object.keys(a).length - Object.keys(b).length)[0] ?? {};
}

const isRecord = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);
const join = (path: string, key: string | number): string => (path === '' ? String(key) : `${path}.${key}`);

/** Of a body that is nothing but strangers, so many are told: a word for each of a million is work for nobody's good. */
const MOST_TOLD = 1000;

function gathered<T>(items: readonly T[], of: (item: T, i: number) => Fields): Fields {
  const found: Fields = {};
  let told = 0;
  for (const [i, item] of items.entries()) {
    for (const [name, words] of Object.entries(of(item, i))) {
      found[name] = words;
      told++;
    }
    if (told >= MOST_TOLD) break;
  }
  return found;
}

const inBoth = (a: Fields, b: Fields): Fields =>
  Object.fromEntries(Object.entries(a).filter(([key]) => Object.hasOwn(b, key)));

/** The known word nearest to one that is not known; undefined when none is near: two letters may differ (one exchange
 *  of neighbours), in long words a third of them. */
export function nearestWord(word: string, known: readonly string[]): string | undefined {
  const least = known
    .map((candidate) => ({ candidate, apart: distance(word.toLowerCase(), candidate.toLowerCase()) }))
    .toSorted((a, b) => a.apart - b.apart)[0];
  return least && least.apart <= Math.max(word.length < 4 ? 1 : 2, word.length / 3) ? least.candidate : undefined;
}

function strangerWords(key: string, known: readonly string[]): string {
  const near = nearestWord(key, known);
  if (near) return `“${key}” is not known here; did you mean “${near}”?`;
  return known.length === 0 ? 'Nothing of that name is taken here.' : `“${key}” is not known here.`;
}
