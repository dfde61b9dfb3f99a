import { and, asc, desc, eq, inArray, isNull, sql } from 'drizzle-orm';
import type { Db } from '../db/open.ts';
import { among, ready, rowById } from '../db/ready.ts';
import { lotColours, lots } from '../db/tables/lots.ts';
import { type DyeRow, dyes, fibres } from '../db/tables/materials.ts';
import {
  type RecipeComponentRow,
  type RecipeRevisionRow,
  type RecipeRow,
  recipeComponents,
  recipeRevisions,
  recipes,
} from '../db/tables/recipes.ts';
import { people } from '../db/tables/studio.ts';
import { swatchColours, swatches } from '../db/tables/swatches.ts';
import type { LotOfRecipe, SwatchOfRecipe } from './schemas.ts';

export interface ComponentWithDye {
  ordinal: number;
  dye: DyeRow;
  sharePpm: number;
  depthPpm: number;
}

export interface RevisionWithComponents {
  revision: RecipeRevisionRow;
  recipe: RecipeRow;
  components: ComponentWithDye[];
}

export const recipeById = rowById(recipes);

/** The newest revision of a recipe. */
export const latestRevision = (db: Db, recipeId: number): RecipeRevisionRow | undefined =>
  newestRevision(db).get({ recipeId });
const newestRevision = ready((db) =>
  db
    .select()
    .from(recipeRevisions)
    .where(eq(recipeRevisions.recipeId, sql.placeholder('recipeId')))
    .orderBy(desc(recipeRevisions.number))
    .limit(1)
    .prepare(),
);

/** Components of several revisions in one statement, each with its dye, in their order. */
function componentsByRevision(db: Db, revisionIds: readonly number[]): Map<number, ComponentWithDye[]> {
  const byRevision = new Map<number, ComponentWithDye[]>(revisionIds.map((id) => [id, []]));
  if (revisionIds.length === 0) return byRevision;
  const rows = componentsOf(db).all({ revisionIds: JSON.stringify(revisionIds) });
  for (const { component, dye } of rows) {
    byRevision.get(component.revisionId)?.push({
      ordinal: component.ordinal,
      dye,
      sharePpm: component.sharePpm,
      depthPpm: component.depthPpm,
    });
  }
  return byRevision;
}
const componentsOf = ready((db) =>
  db
    .select({ component: recipeComponents, dye: dyes })
    .from(recipeComponents)
    .innerJoin(dyes, eq(dyes.id, recipeComponents.dyeId))
    .where(among(recipeComponents.revisionId, 'revisionIds'))
    .orderBy(recipeComponents.revisionId, recipeComponents.ordinal)
    .prepare(),
);

/** A revision with its recipe, and its components with their dyes. */
export function revisionWithComponents(db: Db, revisionId: number): RevisionWithComponents | undefined {
  const row = revisionAndRecipe(db).get({ revisionId });
  return row ? { ...row, components: componentsByRevision(db, [revisionId]).get(revisionId) ?? [] } : undefined;
}
const revisionAndRecipe = ready((db) =>
  db
    .select({ revision: recipeRevisions, recipe: recipes })
    .from(recipeRevisions)
    .innerJoin(recipes, eq(recipes.id, recipeRevisions.recipeId))
    .where(eq(recipeRevisions.id, sql.placeholder('revisionId')))
    .prepare(),
);

export interface RevisionOfRecipe {
  revision: RecipeRevisionRow;
  madeByName: string;
  components: ComponentWithDye[];
}

/** Every revision of a recipe, newest first, with who made it. */
export function revisionsOf(db: Db, recipeId: number): RevisionOfRecipe[] {
  const rows = db
    .select({ revision: recipeRevisions, madeByName: people.name })
    .from(recipeRevisions)
    .innerJoin(people, eq(people.id, recipeRevisions.madeBy))
    .where(eq(recipeRevisions.recipeId, recipeId))
    .orderBy(desc(recipeRevisions.number))
    .all();
  const components = componentsByRevision(
    db,
    rows.map((r) => r.revision.id),
  );
  return rows.map((r) => ({ ...r, components: components.get(r.revision.id) ?? [] }));
}

interface RecipeFilter {
  words: string;
  dyeId: number | null;
  dyeClass: RecipeRow['dyeClass'] | null;
  archived: boolean;
}

export interface RecipeOverview extends RevisionWithComponents {
  swatchCount: number;
  /** Colour of its newest swatch that was read. */
  hex: string | null;
}

const likeWord = (word: string): string => `%${word.replace(/[\\%_]/g, (c) => `\\${c}`)}%`;

/** Recipes by name with their newest revision; every word must be found in name, note or a dye of the newest revision.
 *  Keyset by name: `after` is the last name of the page before. */
export function listRecipes(db: Db, filter: RecipeFilter, after: string | null, limit: number): RecipeOverview[] {
  const words = filter.words
    .split(/\s+/)
    .filter((w) => w !== '')
    .slice(0, 8);
  const dyeWords = (word: string) =>
    sql`exists (select 1 from recipe_components c join dyes d on d.id = c.dye_id where c.revision_id = ${recipeRevisions.id}
      and (d.name like ${likeWord(word)} escape '\\' or d.code like ${likeWord(word)} escape '\\'))`;
  const rows = db
    .select({
      recipe: recipes,
      revision: recipeRevisions,
      swatchCount: sql<number>`(select count(*) from swatches s join recipe_revisions r on r.id = s.revision_id where r.recipe_id = ${recipes.id} and s.archived_at is null)`,
      hex: sql<
        string | null
      >`(select k.hex from swatches s join recipe_revisions r on r.id = s.revision_id join swatch_colours k on k.swatch_id = s.id
        where r.recipe_id = ${recipes.id} and s.archived_at is null order by s.dyed_on desc, s.id desc limit 1)`,
    })
    .from(recipes)
    .innerJoin(recipeRevisions, eq(recipeRevisions.recipeId, recipes.id))
    .where(
      and(
        sql`${recipeRevisions.number} = (select max(n.number) from recipe_revisions n where n.recipe_id = ${recipes.id})`,
        filter.archived ? sql`${recipes.archivedAt} is not null` : isNull(recipes.archivedAt),
        filter.dyeClass === null ? undefined : eq(recipes.dyeClass, filter.dyeClass),
        filter.dyeId === null
          ? undefined
          : sql`exists (select 1 from recipe_components c where c.revision_id = ${recipeRevisions.id} and c.dye_id = ${filter.dyeId})`,
        after === null ? undefined : sql`${recipes.name} > ${after} collate nocase`,
        ...words.map(
          (word) =>
            sql`(${recipes.name} like ${likeWord(word)} escape '\\' or ${recipes.note} like ${likeWord(word)} escape '\\' or ${dyeWords(word)})`,
        ),
      ),
    )
    .orderBy(sql`${recipes.name} collate nocase`)
    .limit(limit)
    .all();
  const components = componentsByRevision(
    db,
    rows.map((r) => r.revision.id),
  );
  return rows.map((r) => ({
    ...r,
    components: components.get(r.revision.id) ?? [],
  }));
}

/** Every recipe in use with its newest revision's id, by name: for lists to choose from. */
export const recipeChoices = (db: Db): { recipeId: number; revisionId: number; label: string }[] =>
  db
    .select({
      recipeId: recipes.id,
      revisionId: recipeRevisions.id,
      name: recipes.name,
      number: recipeRevisions.number,
    })
    .from(recipes)
    .innerJoin(recipeRevisions, eq(recipeRevisions.recipeId, recipes.id))
    .where(
      and(
        isNull(recipes.archivedAt),
        sql`${recipeRevisions.number} = (select max(n.number) from recipe_revisions n where n.recipe_id = ${recipes.id})`,
      ),
    )
    .orderBy(sql`${recipes.name} collate nocase`)
    .all()
    .map(({ recipeId, revisionId, name, number }) => ({ recipeId, revisionId, label: `${name}, revision ${number}` }));

/** Dyes that a recipe may name, by class and name. */
export const dyesInUse = (db: Db): DyeRow[] => unarchivedDyes(db).all();
const unarchivedDyes = ready((db) =>
  db.select().from(dyes).where(isNull(dyes.archivedAt)).orderBy(dyes.class, asc(dyes.name)).prepare(),
);

export const dyesByIds = (db: Db, dyeIds: readonly number[]): DyeRow[] =>
  dyeIds.length === 0
    ? []
    : db
        .select()
        .from(dyes)
        .where(inArray(dyes.id, [...dyeIds]))
        .all();

/** Swatches standing on any revision of a recipe, newest first. */
export const swatchesOfRecipe = (db: Db, recipeId: number): SwatchOfRecipe[] =>
  db
    .select({
      swatchId: swatches.id,
      revisionId: swatches.revisionId,
      code: swatches.code,
      name: swatches.name,
      fibreName: fibres.name,
      depthPpm: swatches.depthPpm,
      hex: swatchColours.hex,
    })
    .from(swatches)
    .leftJoin(swatchColours, eq(swatchColours.swatchId, swatches.id))
    .innerJoin(recipeRevisions, eq(recipeRevisions.id, swatches.revisionId))
    .innerJoin(fibres, eq(fibres.id, swatches.fibreId))
    .where(and(eq(recipeRevisions.recipeId, recipeId), isNull(swatches.archivedAt)))
    .orderBy(desc(swatches.dyedOn), desc(swatches.id))
    .limit(60)
    .all();

/** Lots that carry any revision of a recipe, newest first. */
export const lotsOfRecipe = (db: Db, recipeId: number): LotOfRecipe[] =>
  db
    .select({
      lotId: lots.id,
      revisionId: lotColours.revisionId,
      number: lots.number,
      status: lots.status,
      goodsText: lots.goodsText,
      depthPpm: lotColours.depthPpm,
      plannedAt: lots.plannedAt,
    })
    .from(lotColours)
    .innerJoin(lots, eq(lots.id, lotColours.lotId))
    .innerJoin(recipeRevisions, eq(recipeRevisions.id, lotColours.revisionId))
    .where(eq(recipeRevisions.recipeId, recipeId))
    .orderBy(desc(lots.id))
    .limit(60)
    .all();

export const insertRecipe = (db: Db, row: Pick<RecipeRow, 'name' | 'dyeClass' | 'note'>): RecipeRow =>
  db.insert(recipes).values(row).returning().get();

export function insertRevision(
  db: Db,
  row: Omit<RecipeRevisionRow, 'id'>,
  components: readonly Pick<RecipeComponentRow, 'dyeId' | 'sharePpm' | 'depthPpm'>[],
): RecipeRevisionRow {
  const revision = db.insert(recipeRevisions).values(row).returning().get();
  db.insert(recipeComponents)
    .values(components.map((c, i) => ({ ...c, revisionId: revision.id, ordinal: i + 1 })))
    .run();
  return revision;
}

/** Saves what may change on a recipe against the version read; undefined when somebody has saved meanwhile. */
export const updateRecipe = (
  db: Db,
  recipeId: number,
  changes: Partial<Pick<RecipeRow, 'name' | 'note' | 'archivedAt'>>,
  version: number,
): RecipeRow | undefined =>
  db
    .update(recipes)
    .set({ ...changes, version: sql`${recipes.version} + 1` })
    .where(and(eq(recipes.id, recipeId), eq(recipes.version, version)))
    .returning()
    .get();
