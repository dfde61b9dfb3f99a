import type { Typed } from '../../../views/kit/field.ts';
import type { ConfirmedWay } from '../../calc/overWeighing.ts';
import { readInput, typedBody } from '../../http/forms.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { atBench, idOf, saidOf } from '../benchDoor.ts';
import { ConfirmedWayShape, WayChosen } from '../schemas.ts';
import { takeWayOut } from '../takeWayOut.ts';

export const takeWayOutAtBench = page({
  params: idParams,
  show(deps, { params: { id: lotId }, request, reply }) {
    const typed = typedBody(request.body);
    return atBench(deps, request, reply, { lotId, form: 'adjustment', typed }, () =>
      takeWayOut(
        deps,
        {
          lotId,
          componentId: idOf(typed, 'componentId'),
          ...readInput(WayChosen, typed),
          confirmed: confirmedOf(typed),
          ...saidOf(deps, typed),
        },
        actorOf(request),
      ),
    );
  },
});

/** The figures that a form of a way out carries; null where it carries none that can be read, as one of an earlier version. */
function confirmedOf(typed: Typed): ConfirmedWay | null {
  try {
    return ConfirmedWayShape.safeParse(JSON.parse(typed['confirmed'] ?? '')).data ?? null;
  } catch {
    return null;
  }
}
