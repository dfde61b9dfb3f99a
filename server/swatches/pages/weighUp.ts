import type { Html } from '../../../views/html.ts';
import { repeatForm, weighUp, weighUpPage } from '../../../views/swatches/weighUp.ts';
import type { Db } from '../../db/open.ts';
import { typedBody, zodFieldErrors } from '../../http/forms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { repeatOf } from '../repeat.ts';
import { RepeatForm } from '../schemas.ts';
import { type SwatchSheet, swatchSheet } from '../sheet.ts';
import { fibreOptions } from './form.ts';

/** "Repeat on n g of …": the form, and what it answers to what was typed. */
export function repeatPart(
  db: Db,
  { swatch, formula, method }: SwatchSheet,
  typed: Record<string, string>,
): { refused: boolean; form: Html; part: Html } {
  const { mass = '', fibreId = '', depth = '' } = typed;
  const read = RepeatForm.safeParse(typed);
  const result = read.success
    ? repeatOf(
        db,
        { revision: formula, method },
        { massMg: read.data.mass, fibreId: read.data.fibreId, depthPpm: read.data.depth },
      )
    : null;
  const errors = read.success ? {} : zodFieldErrors(read.error);
  const plan = new URLSearchParams({ swatchId: String(swatch.id), depth, fibreId, mass });
  const predicted = new URLSearchParams({
    revisionId: String(swatch.revisionId),
    methodId: String(swatch.methodId),
    fibreId,
    depth,
  });
  return {
    refused: !read.success,
    form: repeatForm({ swatchId: swatch.id, form: { typed, errors }, fibres: fibreOptions(db) }),
    part: weighUp({
      result,
      errors,
      planHref: `/lots/new?${plan}`,
      predictedHref: `/colour/predicted?${predicted}`,
      show: showOf(db),
    }),
  };
}

export const showWeighUp = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const sheet = swatchSheet(db, params.id);
    const { id: swatchId, name: title } = sheet.swatch;
    const { form, part, refused } = repeatPart(db, sheet, typedBody(request.query));
    return sendPage(request, reply, {
      status: refused ? 422 : 200,
      title: `Repeat ${title}`,
      section: 'swatches',
      part,
      body: weighUpPage({ swatchId, title, form, part }),
    });
  },
});
