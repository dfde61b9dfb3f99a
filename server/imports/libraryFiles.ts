import { minorUnitDecimals } from '../calc/rounding.ts';
import { CARD_FIELDS } from './fields.ts';
import type { ImportKind } from './schemas.ts';

type Cell = string | number | null;
type Row = Readonly<Record<string, string | number | null>>;

/** A file that the Import page reads again without a question: its heads are the names of the fields. */
export interface LibraryFile {
  kind: ImportKind;
  columns: readonly { name: string; value: (row: Row) => Cell }[];
}

const thousandths =
  (unit: string, name: string) =>
  (row: Row): Cell =>
    row[name] == null ? null : `${Number(row[name]) / 1000}${unit}`;
const percent =
  (name: string) =>
  (row: Row): Cell =>
    row[name] == null ? null : `${Number(row[name]) / 10_000} %`;
const same = (name: string) => ({ name, value: (row: Row): Cell => row[name] ?? null });

/** The six files, in the order in which they are best imported. */
export function libraryFiles(currency: string): LibraryFile[] {
  const decimals = minorUnitDecimals({ currency });
  const money =
    (name: string) =>
    (row: Row): Cell =>
      row[name] == null ? null : (Number(row[name]) / 10 ** decimals).toFixed(decimals);
  const amount =
    (name: string) =>
    (row: Row): Cell =>
      row[name] == null ? null : `${Number(row[name]) / 1000} ${row['unit'] === 'ul' ? 'mL' : 'g'}`;
  const components = (row: Row): { code: string; sharePpm: number; depthPpm: number }[] =>
    JSON.parse(String(row['components']));
  return [
    { kind: 'customers', columns: [same('name'), same('contact'), same('note')] },
    {
      kind: 'fibres',
      columns: [
        ...['name', 'class', 'kind', 'construction'].map(same),
        { name: 'arealMass', value: thousandths(' g/m²', 'arealMassMgPerM2') },
        { name: 'width', value: (row) => (row['widthMm'] == null ? null : `${row['widthMm']} mm`) },
        same('countText'),
        { name: 'putUpMass', value: thousandths(' g', 'putUpMassMg') },
        { name: 'putUpLength', value: (row) => (row['putUpLengthMm'] == null ? null : `${row['putUpLengthMm']} mm`) },
        { name: 'regain', value: percent('regainPpm') },
        { name: 'shrinkLength', value: percent('shrinkLengthPpm') },
        { name: 'shrinkWidth', value: percent('shrinkWidthPpm') },
        { name: 'uptake', value: percent('uptakePpm') },
        { name: 'costPerKg', value: money('costMinorPerKg') },
        same('note'),
      ],
    },
    {
      kind: 'dyes',
      columns: [
        ...['code', 'name', 'class', 'ciName'].map(same),
        { name: 'colourant', value: (row) => (row['singleColourant'] === 1 ? 'single' : 'mixed') },
        same('shownHex'),
        { name: 'pale', value: percent('palePpm') },
        { name: 'medium', value: percent('mediumPpm') },
        { name: 'deep', value: percent('deepPpm') },
        ...['solutionLifeDays', 'hazardCodes', 'sdsUrl', 'note'].map(same),
      ],
    },
    {
      kind: 'auxiliaries',
      columns: [
        ...['code', 'name', 'form', 'hydrate', 'grade'].map(same),
        { name: 'bulkDensity', value: (row) => row['bulkDensityGPerL'] ?? null },
        { name: 'solutionConc', value: percent('solutionConcPpm') },
        ...['hazardCodes', 'sdsUrl', 'note'].map(same),
      ],
    },
    {
      kind: 'stock',
      columns: [
        same('item'),
        { name: 'container', value: (row) => row['code'] ?? null },
        { name: 'quantity', value: amount('receivedQuantity') },
        { name: 'price', value: money('priceMinor') },
        { name: 'freight', value: money('freightMinor') },
        ...['supplier', 'makerLot'].map(same),
        { name: 'strength', value: percent('strengthPpm') },
        ...['receivedOn', 'openedOn', 'bestBeforeOn'].map(same),
        // Below nothing the ledger waits for a count; the file cannot say so.
        { name: 'onHand', value: (row) => amount('onHand')(Number(row['onHand']) < 0 ? { ...row, onHand: 0 } : row) },
        same('note'),
      ],
    },
    {
      kind: 'swatches',
      columns: [
        ...['code', 'name', 'recipe', 'recipeRevision', 'entryStyle'].map(same),
        { name: 'depth', value: percent('depthPpm') },
        { name: 'recipeDepth', value: percent('recipeDepthPpm') },
        ...Array.from({ length: 12 }, (_, i) => i).flatMap((i) => [
          { name: `dye${i + 1}`, value: (row: Row): Cell => components(row)[i]?.code ?? null },
          {
            name: `amount${i + 1}`,
            value: (row: Row): Cell => {
              const c = components(row)[i];
              if (!c) return null;
              return `${(row['entryStyle'] === 'split' ? c.sharePpm : c.depthPpm) / 10_000} %`;
            },
          },
        ]),
        ...['fibre', 'fibreClass', 'fibreKind', 'method', 'dyedOn'].map(same),
        { name: 'dryMass', value: thousandths(' g', 'dryMassMg') },
        ...CARD_FIELDS.map(({ name, leaves = (kept) => kept }) => ({
          name,
          value: (row: Row): Cell => leaves(row[name] ?? null),
        })),
        same('madeBy'),
        { name: 'readings', value: (row) => (row['readings'] === '[]' ? null : (row['readings'] ?? null)) },
        ...['spectrum', 'stockLots'].map(same),
        { name: 'archived', value: (row) => (row['archived'] === 1 ? 'yes' : null) },
      ],
    },
  ];
}
