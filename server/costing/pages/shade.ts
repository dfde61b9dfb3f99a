import { shadePage } from '../../../views/costing/shade.ts';
import type { FieldErrors } from '../../../views/kit/field.ts';
import { asRefusal } from '../../errors.ts';
import { typedBody } from '../../http/forms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { changeBetween, shadeSeries } from '../shade.ts';

export const showShade = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const recipeId = params.id;
    const { name, lots } = shadeSeries(db, recipeId);
    const item = (l: (typeof lots)[number]) => ({ ...l, finishedOn: l.closedOn });
    const { earlier, later } = typedBody(request.query);
    const typed = {
      earlier: earlier ?? String(lots.at(-2)?.lotId ?? ''),
      later: later ?? String(lots.at(-1)?.lotId ?? ''),
    };
    let errors: FieldErrors = {};
    let change: ReturnType<typeof changeBetween> | null = null;
    if (lots.length > 1) {
      try {
        change = changeBetween(db, lots, Number(typed.earlier), Number(typed.later));
      } catch (error) {
        // A lot that is not of this shade is said beside its field; the series still stands.
        const refusal = asRefusal(error);
        if (!refusal) throw error;
        errors = refusal.fields;
      }
    }
    return sendPage(request, reply, {
      title: `What ${name} costs`,
      section: 'costing',
      status: Object.keys(errors).length > 0 ? 422 : 200,
      body: shadePage({
        recipeId,
        name,
        lots: lots.map(item),
        form: { typed, errors },
        change: change && { ...change, earlier: item(change.earlier), later: item(change.later) },
        show: showOf(db),
      }),
    });
  },
});
