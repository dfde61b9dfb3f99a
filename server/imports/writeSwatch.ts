import type { dyeClassNames } from '../calc/classFit.ts';
import { splitOfOwnDepths } from '../calc/dyeMass.ts';
import { type FieldErrors, invalid } from '../errors.ts';
import { insertFibre } from '../fibres/queries.ts';
import { FibreBody } from '../fibres/schemas.ts';
import { keepUndyed, undyedOf } from '../matching/queries.ts';
import { insertMethod } from '../methods/queries.ts';
import { MethodBody } from '../methods/schemas.ts';
import { recordReadings, storedColour } from '../readings/recordReadings.ts';
import type { SpectrumInput } from '../readings/schemas.ts';
import { deepShadeWords } from '../recipes/deepShade.ts';
import { addRevision, createRecipe, dyesInShade } from '../recipes/revisions.ts';
import type { RevisionInput } from '../recipes/schemas.ts';
import { addSwatch, editSwatch } from '../swatches/addSwatch.ts';
import { cardOf } from '../swatches/schemas.ts';
import { parsed } from './parsed.ts';
import { freeKey } from './plainRows.ts';
import { classOfDye, formulasOfRecipe, idOf, insertSpectrum } from './queries.ts';
import { type Outcome, SKIPPED, type UndyedSample, type Writing } from './runImport.ts';
import type { SwatchLine } from './swatchLine.ts';

const SAME_SHARE_PPM = 2;

/** Writes one swatch with whatever it needs and is not there yet. */
export function writeSwatch(w: Writing, line: SwatchLine): Outcome {
  if (line.components.length === 0) return writeUndyed(w, line);
  let { code } = line;
  if (code !== null) {
    const free = freeKey(w, { thing: 'swatch', field: 'code', key: code, maxLength: 24, what: 'the swatch' });
    if (free === SKIPPED) return SKIPPED;
    code = free.key;
  }
  const errors: FieldErrors = {};
  const dyeIds = line.components.map(({ dyeCode }) => idOf(w.tx, 'dye', dyeCode));
  const unknown = line.components.filter((_, i) => dyeIds[i] === undefined).map((c) => c.dyeCode);
  if (unknown.length > 0) errors['formula'] = `There is no dye ${unknown.join(', ')}. Import the dyes first.`;
  const stockLotIds = line.stockLotCodes.map((c) => idOf(w.tx, 'stockLot', c));
  const noJar = line.stockLotCodes.filter((_, i) => stockLotIds[i] === undefined);
  if (noJar.length > 0) errors['stockLots'] = `There is no container ${noJar.join(', ')}.`;
  if (unknown.length > 0 || noJar.length > 0) throw invalid(errors);
  const components = line.components.map((c, i) => ({ dyeId: dyeIds[i] ?? 0, ppm: c.ppm }));
  const dyeClass = classOfDye(w.tx, components[0]?.dyeId ?? 0);
  if (!dyeClass) throw invalid({ formula: 'Which dyes, and how much of each?' });

  const fibreId = fibreOf(w, line);
  const methodId = methodOf(w, line, dyeClass);
  const revisionId = revisionOf(w, line, components, dyeClass);
  const made = madeBy(w, line.madeBy);
  const swatch = addSwatch(
    w.tx,
    {
      code: code ?? w.nextCard(),
      name: line.name,
      revisionId,
      depthPpm: line.depthPpm,
      fibreId,
      methodId,
      lotId: null,
      dryMassMg: line.dryMassMg,
      dyedOn: line.dyedOn,
      ...cardOf(line),
      photoId: null,
      stockLotIds: stockLotIds.map((id) => id ?? 0),
      readings: [],
    },
    made,
    w.at,
  );
  w.cardGiven(swatch.code);
  w.brought('swatch', swatch.id);
  // Readings of one instant are one look at the sample: their shares of its area belong together.
  for (const readAt of [...new Set(line.readings.map((r) => r.readAt))]) {
    const inputs = line.readings.filter((r) => r.readAt === readAt).map((r) => r.input);
    recordReadings(w.tx, { swatchId: swatch.id }, inputs, made, Math.min(readAt ?? w.at, w.at));
  }
  if (line.spectrum) {
    const { startNm, stepNm, reflectance } = line.spectrum;
    insertSpectrum(w.tx, {
      swatchId: swatch.id,
      startNm,
      stepNm,
      reflectance: Array.from(reflectance),
      measuredAt: w.at,
    });
  }
  if (line.archived) {
    editSwatch(
      w.tx,
      swatch.id,
      { name: line.name, ...cardOf(line), photoId: null, archived: true, version: swatch.version },
      w.at,
    );
  }
  return 'new';
}

/** Keeps the colour of goods before dyeing. Samples of the same goods in one import give their mean; what somebody read
 *  before stays. */
function writeUndyed(w: Writing, line: SwatchLine): Outcome {
  const [{ input, readAt } = {}] = line.readings;
  if (!input) {
    throw invalid({ colour: 'Undyed goods need their colour: L*, a* and b*, a colour code or a spectrum.' });
  }
  const { l, a, b, illuminant, observer } = storedColour(input);
  const spectrum = line.spectrum && { ...line.spectrum, reflectance: Array.from(line.spectrum.reflectance) };
  const sample: UndyedSample = { l, a, b, illuminant, observer, spectrum };
  const fibreId = fibreOf(w, line);
  const earlier = w.undyed.get(fibreId) ?? [];
  const known = earlier.length > 0 ? undefined : undyedOf(w.tx, fibreId);
  if (known) {
    const isSame =
      known.l === l && known.a === a && known.b === b && known.illuminant === illuminant && known.observer === observer;
    const where = `${line.fibre} has a reading before dyeing already`;
    if (!isSame && w.choices.duplicates === 'ask') {
      throw invalid({ fibre: `${where}: say below what to do with duplicates.` });
    }
    w.note(`left out: ${where}`);
    return SKIPPED;
  }
  const samples = [...earlier, sample];
  const [first] = samples;
  if (first && (first.illuminant !== illuminant || first.observer !== observer)) {
    throw invalid({ colour: `The samples of ${line.fibre} before dyeing were read under different lights.` });
  }
  keepUndyed(w.tx, {
    fibreId,
    ...meanSample(samples, line.fibre),
    readAt: Math.min(readAt ?? w.at, w.at),
    readBy: madeBy(w, line.madeBy).personId,
  });
  w.undyed.set(fibreId, samples);
  w.note(samples.length === 1 ? 'the goods before dyeing' : `the goods before dyeing: mean of ${samples.length}`);
  return 'new';
}

function meanSample(samples: readonly UndyedSample[], goods: string): UndyedSample {
  const mean = (values: readonly number[]): number => values.reduce((sum, v) => sum + v, 0) / values.length;
  const curves = samples.flatMap((s) => s.spectrum ?? []);
  const [curve] = curves;
  const isEven = (c: SpectrumInput): boolean =>
    c.startNm === curve?.startNm && c.stepNm === curve.stepNm && c.reflectance.length === curve.reflectance.length;
  if (!curves.every(isEven)) throw invalid({ spectrum: `The curves of ${goods} have different wavelengths.` });
  return {
    l: mean(samples.map((s) => s.l)),
    a: mean(samples.map((s) => s.a)),
    b: mean(samples.map((s) => s.b)),
    illuminant: samples[0]?.illuminant ?? 'D65',
    observer: samples[0]?.observer ?? '10',
    spectrum: curve
      ? { ...curve, reflectance: curve.reflectance.map((_, i) => mean(curves.map((c) => c.reflectance[i] ?? 0))) }
      : null,
  };
}

function madeBy(w: Writing, name: string | null): { personId: number } {
  const personId = name === null ? undefined : idOf(w.tx, 'person', name);
  if (name !== null && personId === undefined) w.note(`nobody here is called “${name}”: yours instead`);
  return personId === undefined ? w.by : { personId };
}

function fibreOf(w: Writing, line: SwatchLine): number {
  const known = idOf(w.tx, 'fibre', line.fibre);
  if (known !== undefined) return known;
  if (w.choices.missing !== 'create') {
    throw invalid({
      fibre: `There are no goods “${line.fibre}”: import fibres first, or say below to add what is missing.`,
    });
  }
  const fibreClass = line.fibreClass || w.choices.newFibreClass;
  if (!fibreClass) throw invalid({ fibre: `The goods “${line.fibre}” are new: of which fibre class? Say it below.` });
  const fibre = insertFibre(
    w.tx,
    parsed(
      FibreBody,
      { name: line.fibre, class: fibreClass, kind: line.fibreKind },
      { name: 'fibre', class: 'fibreClass' },
    ),
  );
  w.brought('fibre', fibre.id);
  w.note(`new goods: ${fibre.name}`);
  return fibre.id;
}

function methodOf(w: Writing, line: SwatchLine, dyeClass: keyof typeof dyeClassNames): number {
  const known = idOf(w.tx, 'method', line.method);
  if (known !== undefined) return known;
  if (w.choices.missing !== 'create') {
    throw invalid({
      method: `There is no method “${line.method}”: add it first, or say below to add what is missing.`,
    });
  }
  const method = insertMethod(
    w.tx,
    parsed(MethodBody, {
      name: line.method,
      dyeClass,
      summary: 'Came with an import; its steps are still to be written.',
    }),
  );
  w.brought('method', method.id);
  w.note(`new method: ${method.name}`);
  return method.id;
}

/** The revision that the swatch stands on: one of its recipe with the same shares where there is one, else a new one. A
 *  ladder of depths is one recipe at several depths. */
function revisionOf(
  w: Writing,
  line: SwatchLine,
  components: readonly { dyeId: number; ppm: number }[],
  dyeClass: keyof typeof dyeClassNames,
): number {
  const input: RevisionInput =
    line.entryStyle === 'split'
      ? {
          entryStyle: 'split',
          totalDepthPpm: line.recipeDepthPpm,
          components: components.map((c) => ({ dyeId: c.dyeId, sharePpm: c.ppm })),
          why: '',
        }
      : {
          entryStyle: 'ownDepths',
          components: components.map((c) => ({ dyeId: c.dyeId, depthPpm: c.ppm })),
          why: '',
        };
  const shares =
    line.entryStyle === 'split'
      ? components.map((c) => c.ppm)
      : splitOfOwnDepths({ ownDepthsPpm: components.map((c) => c.ppm) }).sharesPpm;
  const name = line.recipe ?? nameOfFormula(line, shares);
  const recipeId = idOf(w.tx, 'recipe', name);
  const number = line.recipeRevision ?? undefined;
  if (recipeId === undefined) {
    for (const words of deepShadeWords(dyesInShade(w.tx, input))) w.note(words);
    const made = createRecipe(w.tx, { name, dyeClass, note: '', ...input, depthConfirmed: true }, w.by, w.at, number);
    w.brought('recipe', made.recipe.id);
    w.brought('revision', made.revision.id);
    return made.revision.id;
  }
  const formulas = formulasOfRecipe(w.tx, recipeId);
  const isSame = (f: (typeof formulas)[number]): boolean =>
    f.shares.size === components.length &&
    components.every((c, i) => {
      const share = f.shares.get(c.dyeId);
      return share !== undefined && Math.abs(share - (shares[i] ?? 0)) <= SAME_SHARE_PPM;
    });
  const numbered = number === undefined ? undefined : formulas.find((f) => f.number === number);
  if (numbered && !isSame(numbered)) {
    throw invalid({ recipeRevision: `Revision ${number} of “${name}” has another formula here.` });
  }
  const same = numbered ?? (number === undefined ? formulas.find(isSame) : undefined);
  if (same) return same.revisionId;
  const revision = addRevision(
    w.tx,
    recipeId,
    { ...input, why: 'came with an import', depthConfirmed: true },
    w.by,
    w.at,
    number,
  );
  w.brought('revision', revision.id);
  w.note(`“${name}” gets revision ${revision.number}: its formula differs from those that are there`);
  return revision.id;
}

/** "RB 70 · RY 30": a recipe that nobody named. */
function nameOfFormula(line: SwatchLine, shares: readonly number[]): string {
  const parts = line.components.map((c, i) =>
    line.components.length === 1 ? c.dyeCode : `${c.dyeCode} ${Number(((shares[i] ?? 0) / 10_000).toFixed(1))}`,
  );
  return parts.join(' · ').slice(0, 80);
}
