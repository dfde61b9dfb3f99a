import type { FastifyRequest } from 'fastify';
import { z } from 'zod';
import { placementPage } from '../../../views/bench/placement.ts';
import type { FormState, Typed } from '../../../views/kit/field.ts';
import type { Actor, Deps } from '../../deps.ts';
import { invalid } from '../../errors.ts';
import { fibreById } from '../../fibres/queries.ts';
import { submitForm, typedBody } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage, wantsPart } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { type Bench, benchOf } from '../../lots/benchState.ts';
import { emptyDrawing } from '../../lots/placements.ts';
import { placementColours, placementViews } from '../../lots/present/placements.ts';
import { Drawing } from '../../lots/schemas.ts';
import { actorOf } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { atBench, saidDuring } from '../benchDoor.ts';
import { recordPlacement } from '../recordPlacement.ts';

/** The page that draws how the goods lie, and its versions. */
export const showPlacement = page({
  params: idParams,
  show(deps, { params, request, reply }) {
    const bench = benchOf(deps.db, params.id, deps.now());
    if (bench.lot.finishedAt !== null) return seeOther(reply, `/lots/${bench.lot.id}#placement`);
    return sendPage(request, reply, editor(deps, bench, actorOf(request), { typed: {}, errors: {} }));
  },
});

/** Keeps a drawing as a version of its own. */
export const keepPlacement = page({
  params: idParams,
  show(deps, { params: { id: lotId }, request, reply }) {
    // The device's outbox wants the bench, as after every other entry; a plain form goes on, or comes again.
    if (wantsPart(request)) {
      const typed = typedBody(request.body);
      return atBench(deps, request, reply, { lotId, form: 'placement', typed }, () =>
        keep(deps, request, lotId, typed),
      );
    }
    return submitForm(request, reply, {
      schema: z.record(z.string(), z.string()),
      save: (_, typed) => {
        keep(deps, request, lotId, typed);
        return typed['of'] === 'plan' ? `/lots/${lotId}#placement` : `/lots/${lotId}/bench`;
      },
      again: (form) => editor(deps, benchOf(deps.db, lotId, deps.now()), actorOf(request), form),
    });
  },
});

function keep(deps: Deps, request: FastifyRequest, lotId: number, typed: Typed): unknown {
  const said = saidDuring(deps, lotId, typed);
  return recordPlacement(
    deps,
    {
      lotId,
      of: typed['of'] === 'plan' ? 'plan' : 'cloth',
      drawing: typedDrawing(typed['drawing'] ?? ''),
      text: typed['text'] ?? '',
      ...said,
      stepId: typed['of'] === 'plan' ? null : said.stepId,
    },
    actorOf(request),
  );
}

function editor({ db, now, newId }: Deps, bench: Bench, by: Actor, form: FormState): Rendering {
  const { lot } = bench;
  const colours = placementColours(db, lot.id);
  const { plan, cloth, versions } = placementViews(bench.log, colours);
  const start =
    readable(form.typed['drawing']) ??
    cloth?.drawing ??
    plan?.drawing ??
    emptyDrawing(bench.plan, fibreById(db, lot.fibreId)?.widthMm ?? null);
  return {
    title: `Placement, lot ${lot.number}`,
    section: 'lots',
    shape: 'bench',
    scripts: ['placement.js'],
    body: placementPage({
      lotId: lot.id,
      number: lot.number,
      goodsText: lot.goodsText,
      planned: lot.status === 'planned',
      colours,
      start,
      versions,
      show: showOf(db),
      nowAt: now(),
      person: by,
      clientId: newId(),
      form,
    }),
  };
}

/** The drawing as the page sends it; unreadable text is told to its sender, not thrown. */
function typedDrawing(text: string): Drawing {
  const parsed = Drawing.safeParse(parsedOrNull(text));
  if (!parsed.success) {
    const said = parsed.error.issues.find((issue) => issue.code === 'custom');
    throw invalid({ drawing: said?.message ?? 'The drawing cannot be read.' });
  }
  return parsed.data;
}

/** What was drawn, where it can be read: a refused form keeps it. */
const readable = (text: string | undefined): Drawing | null =>
  text ? (Drawing.safeParse(parsedOrNull(text)).data ?? null) : null;

function parsedOrNull(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}
