import type { Typed } from '../../../views/kit/field.ts';
import { type SoFarProps, soFar } from '../../../views/recipes/formula.ts';
import type { Db } from '../../db/open.ts';
import { typedBody, typedRows } from '../../http/forms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { dyesByIds } from '../queries.ts';
import { FormulaForm } from '../schemas.ts';
import { formulaSoFar } from '../typedFormula.ts';

/** The rows of dyes as typed. */
export const dyeRows = (typed: Typed) => ({ components: typedRows(typed, ['dyeId', 'amount']) });

/** What a formula says while it is being typed, with the names of its dyes. */
export function soFarOf(db: Db, typed: Typed): SoFarProps {
  const rows = dyeRows(typed);
  const read = FormulaForm.safeParse({ ...typed, ...rows });
  if (!read.success) {
    return rows.components.length === 0
      ? { kind: 'empty' }
      : { kind: 'notYet', why: read.error.issues[0]?.message ?? '' };
  }
  const said = formulaSoFar(read.data);
  if (said.kind === 'notYet') return said;
  const dyeIds = said.components.map((c) => c.dyeId);
  const names = new Map(dyesByIds(db, dyeIds).map((d) => [d.id, d.name]));
  return { ...said, components: said.components.map((c) => ({ ...c, dyeName: names.get(c.dyeId) ?? '?' })) };
}

export const showFormula = page({
  show: ({ db }, { request, reply }) =>
    sendPage(request, reply, {
      title: 'Both ways of stating a formula',
      section: 'recipes',
      body: soFar(soFarOf(db, typedBody(request.query))),
    }),
});
