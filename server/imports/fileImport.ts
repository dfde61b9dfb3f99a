import type { Spectrum } from '../calc/colour/spectra.ts';
import type { Actor, Deps } from '../deps.ts';
import { asRefusal, invalid } from '../errors.ts';
import { type RowReader, rowReader } from './cells.ts';
import { FIELDS, spectralColumns } from './fields.ts';
import { writeAuxiliary, writeContainer, writeCustomer, writeDye, writeFibre } from './plainRows.ts';
import { type ImportReport, type Outcome, type RowToWrite, runImport, tryImport, type Writing } from './runImport.ts';
import type { ChoicesInput, ImportKind } from './schemas.ts';
import type { Sheet } from './sheet.ts';
import { isPercentTable, spectrumOf, swatchLineOf } from './swatchLine.ts';
import { writeSwatch } from './writeSwatch.ts';

/** Fields that must have a column and have none. */
export const missingColumns = (kind: ImportKind, choices: ChoicesInput): string[] =>
  FIELDS[kind].filter((f) => f.required && choices.columns[f.name] === undefined).map((f) => f.label);

const PLAIN: Record<
  Exclude<ImportKind, 'swatches'>,
  (w: Writing, words: Readonly<Record<string, string>>) => ReturnType<typeof writeDye>
> = {
  customers: writeCustomer,
  fibres: writeFibre,
  dyes: writeDye,
  auxiliaries: writeAuxiliary,
  stock: writeContainer,
};

/** What a row is called in messages: its first words that tell it from others. */
const labelOf = (words: Readonly<Record<string, string>>, cells: readonly string[]): string =>
  (words['code'] ?? words['name'] ?? words['item'] ?? cells.find((c) => c !== '') ?? '').slice(0, 60);

function rowsToWrite(sheet: Sheet, kind: ImportKind, choices: ChoicesInput): RowToWrite[] {
  const reader = rowReader(sheet, FIELDS[kind], choices);
  const spectral = kind === 'swatches' ? spectralColumns(sheet.columns) : null;
  const isPercent = spectral !== null && isPercentTable(sheet.rows, spectral);
  const writeRow = (w: Writing, words: Readonly<Record<string, string>>, cells: readonly string[]): Outcome => {
    if (kind !== 'swatches') return PLAIN[kind](w, words);
    const spectrum: Spectrum | null = spectral === null ? null : spectrumOf(cells, spectral, isPercent);
    return writeSwatch(w, swatchLineOf(words, choices, { spectrum }));
  };
  return sheet.rows.map(({ line, cells }) => ({
    line,
    label: labelOf(plainWords(reader, cells), cells),
    write: (w) => {
      const { words, problems } = reader.read(cells);
      if (Object.keys(problems).length === 0) return writeRow(w, words, cells);
      // A row says all that is wrong with it at once. What is written here goes with the refusal.
      try {
        writeRow(w, words, cells);
      } catch (error) {
        const refusal = asRefusal(error);
        if (!refusal) throw error;
        throw invalid({ ...refusal.fields, ...problems });
      }
      throw invalid(problems);
    },
  }));
}

function plainWords(reader: RowReader, cells: readonly string[]): Record<string, string> {
  return Object.fromEntries(
    ['code', 'name', 'item'].flatMap((name) => {
      const value = reader.cellOf(name, cells);
      return value ? [[name, value]] : [];
    }),
  );
}

interface FileToImport {
  sheet: Sheet;
  kind: ImportKind;
  fileName: string;
  choices: ChoicesInput;
}

function rowsOf(input: FileToImport): FileToImport & { rows: RowToWrite[] } {
  const missing = missingColumns(input.kind, input.choices);
  if (missing.length > 0) throw invalid({ columns: `Say which column is: ${missing.join(', ')}.` });
  return { ...input, rows: rowsToWrite(input.sheet, input.kind, input.choices) };
}

/** Imports a file, all of it or nothing. */
export const importFile = (deps: Deps, input: FileToImport, by: Actor): { report: ImportReport; importId: number } =>
  runImport(deps, rowsOf(input), by);

/** What importing it would do. */
export const tryFile = async (deps: Deps, input: FileToImport, by: Actor): Promise<ImportReport> =>
  tryImport(deps, rowsOf(input), by);
