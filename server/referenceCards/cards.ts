import { CalcError } from '../calc/calcError.ts';
import {
  type CardDefinition,
  CHART_24_BEFORE_2014,
  CHART_24_SINCE_2014,
  greyCard,
  studioCard,
} from '../calc/colour/cardDefinitions.ts';
import {
  conditionsInWords,
  conditionsOf,
  D50_2,
  type KeptConditions,
  keptLab,
  labOf,
  sameConditions,
} from '../calc/colour/reading.ts';
import { adaptLab } from '../calc/colour/spaces.ts';
import { typedColour } from '../calc/colour/typedColour.ts';
import type { Db } from '../db/open.ts';
import type { ReferenceCardRow } from '../db/tables/swatches.ts';
import type { Actor } from '../deps.ts';
import { found, invalid, Refusal } from '../errors.ts';
import { cardById, cardNamed, insertCard, listCards, setCardArchived } from './queries.ts';
import type { NewCard } from './schemas.ts';

/** Which card lies in a photo, as forms and the API say it: the id of a known one, or 'studio-7'. */
export interface CardChoice {
  card: string;
  /** L* of a plain grey card. */
  greyL?: number | undefined;
}

/** Lightness of a card that reflects 18 %, the usual plain grey: L* = 116·∛0.18 − 16. */
export const USUAL_GREY_L = 49.5;

const STUDIO_CARD = /^studio-([1-9]\d{0,14})$/;
/** What a choice calls a card that the studio measured. */
export const studioCardId = ({ id }: Pick<ReferenceCardRow, 'id'>): string => `studio-${id}`;

/** The chosen card, its patches under D50/2°: a studio's card that was measured under other conditions is adapted (Bradford). */
export function cardOf(db: Db, choice: CardChoice): CardDefinition {
  switch (choice.card) {
    case CHART_24_SINCE_2014.id:
      return CHART_24_SINCE_2014;
    case CHART_24_BEFORE_2014.id:
      return CHART_24_BEFORE_2014;
    case 'greyCard':
      return greyCard({ L: choice.greyL ?? USUAL_GREY_L });
  }
  const id = STUDIO_CARD.exec(choice.card)?.[1];
  const row = id === undefined ? undefined : cardById(db, Number(id));
  if (!row) throw invalid({ card: 'Choose a card from the list.' });
  return definitionOf(row);
}

export const definitionOf = (row: ReferenceCardRow): CardDefinition =>
  studioCard({
    id: studioCardId(row),
    name: row.name,
    columns: row.columns,
    rows: row.rows,
    patches: row.patches.map((patch) => ({
      name: patch.name,
      lab: adaptLab({ lab: labOf(patch), from: conditionsOf(row), to: D50_2, method: 'bradford' }),
    })),
    conditions: D50_2,
  });

/** The sentence beside a card that was measured under other conditions than photos are read under; '' for other cards. */
export const cardAdaptation = (row: ReferenceCardRow): string =>
  sameConditions(conditionsOf(row), D50_2)
    ? ''
    : `Measured under ${conditionsInWords(conditionsOf(row))}, adapted to D50/2° by the Bradford transform: an estimate.`;

/** Cards to choose from: the known ones, and the studio's own unless they were put away. */
export const cardChoices = (db: Db): { card: string; name: string }[] => [
  ...[CHART_24_SINCE_2014, CHART_24_BEFORE_2014].map(({ id, name }) => ({ card: id, name })),
  { card: 'greyCard', name: 'plain grey card' },
  ...listCards(db)
    .filter((row) => row.archivedAt === null)
    .map((row) => ({ card: studioCardId(row), name: row.name })),
];

/** Keeps a card that the studio measured. */
export function addCard(db: Db, input: NewCard, by: Pick<Actor, 'personId'>, at: number): ReferenceCardRow {
  const { columns, rows, patches } = input;
  if (columns * rows > 1 && Math.min(columns, rows) < 2) {
    throw invalid({
      rows: 'A card of one row cannot be placed by its corners: two rows and columns, or one patch alone.',
    });
  }
  if (patches.length !== columns * rows) {
    throw invalid({
      patches: `${columns} by ${rows} are ${columns * rows} patches, and ${patches.length} were given.`,
    });
  }
  if (cardNamed(db, input.name)) throw invalid({ name: 'There is a card of that name already.' });
  // What the photo reader would refuse is refused here, and nothing is kept.
  return db.transaction((tx) => {
    const row = insertCard(tx, { ...input, madeAt: at, madeBy: by.personId, archivedAt: null });
    definitionOf(row);
    return row;
  });
}

/** Puts a card away, or takes it out again. The record of it stays, for the readings that were made with it. */
export function archiveCard(db: Db, cardId: number, archived: boolean, at: number): ReferenceCardRow {
  return found(setCardArchived(db, cardId, archived ? at : null), 'reference card');
}

export const demandCard = (db: Db, cardId: number): ReferenceCardRow => found(cardById(db, cardId), 'reference card');

/** A name, if any, and the three numbers that end the line. */
const NAMED_NUMBERS = /^(.*?)((?:[-+−]?[\d.,]+[\s;,]+){2}[-+−]?[\d.,]+)$/;

/** Patches typed one a line, row by row: "white 96.5 -0.4 1.2", or the three numbers alone. */
export function typedPatches(text: string, conditions: KeptConditions): NewCard['patches'] {
  const lines = text.split('\n').map((line) => line.trim());
  return lines
    .filter((line) => line !== '')
    .map((line, i) => {
      const [, name = '', numbers = line] = NAMED_NUMBERS.exec(line) ?? [];
      try {
        const { lab, hex } = typedColour({ text: numbers, conditions: conditionsOf(conditions), field: 'patches' });
        if (hex !== null) throw new Refusal('invalidInput', 'a colour code is no measured patch');
        return { name: name.replace(/[\s;:]+$/, '') || `patch ${i + 1}`, ...keptLab(lab) };
      } catch (error) {
        if (error instanceof CalcError || error instanceof Refusal) {
          throw invalid({ patches: `Line ${i + 1}, “${line.slice(0, 40)}”: ${error.message}.` });
        }
        throw error;
      }
    });
}
