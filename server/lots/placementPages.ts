import type { FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { FormState, Typed } from '../../views/kit/field.ts';
import {
  type PlacementColour,
  type PlacementVersion,
  placementInLog,
  placementPage,
} from '../../views/lots/placement.ts';
import type { Db } from '../db/open.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid } from '../errors.ts';
import type { App } from '../http/app.ts';
import { submitForm, typedBody } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage, wantsPart } from '../http/page.ts';
import { actorOf } from '../people/guards.ts';
import { displayOfSwatches } from '../readings/queries.ts';
import { showOf } from '../settings/show.ts';
import { idParams } from '../typedFields.ts';
import type { BenchDoor } from './benchDoor.ts';
import { type Bench, benchOf } from './benchState.ts';
import {
  Drawing,
  drawingWords,
  emptyDrawing,
  type Placement,
  placementOfEntry,
  placementsIn,
  recordPlacement,
  standingPlacements,
} from './placement.ts';
import { coloursOf, fibreOf, type LogLine, newestSwatchOfRevision } from './queries.ts';

/** The colours of a lot as a drawing shows them: by the swatch that each follows, else by the newest of its recipe. */
export function placementColours(db: Db, lotId: number): (PlacementColour & { sharePpm: number; placement: string })[] {
  const colours = coloursOf(db, lotId).map((c) => ({
    ...c,
    shownSwatchId: c.swatchId ?? newestSwatchOfRevision(db, c.revisionId),
  }));
  const shown = displayOfSwatches(
    db,
    colours.flatMap((c) => (c.shownSwatchId === null ? [] : [c.shownSwatchId])),
  );
  return colours.map((c) => ({
    ordinal: c.ordinal,
    name: c.recipeName,
    hex: c.shownSwatchId === null ? null : (shown.get(c.shownSwatchId)?.hex ?? null),
    sharePpm: c.sharePpm,
    placement: c.placement,
  }));
}

const versionOf = (p: Placement, person: string, colours: readonly PlacementColour[]): PlacementVersion => ({
  ...p,
  person,
  words: drawingWords(
    p.drawing,
    colours.map((c) => c.name),
  ),
});

/** Drawings of a lot for its page, the bench and its log. */
export function placementViews(log: readonly LogLine[], colours: readonly PlacementColour[]) {
  const personOf = new Map(log.map((e) => [e.id, e.personName]));
  const view = (p: Placement | null): PlacementVersion | null =>
    p && versionOf(p, personOf.get(p.entryId) ?? '', colours);
  const { plan, cloth } = standingPlacements(log);
  const versions = placementsIn(log).map((p) => versionOf(p, personOf.get(p.entryId) ?? '', colours));
  return { plan: view(plan), cloth: view(cloth), versions };
}

/** What the log shows under a placement: the drawing and, beside it, the plan's. */
export function placementMarkup(e: LogLine, log: readonly LogLine[], colours: readonly PlacementColour[]) {
  const version = versionOf(placementOfEntry(e), e.personName, colours);
  return placementInLog({ version, plan: placementViews(log, colours).plan, colours });
}

/** The drawing as the page sends it; unreadable text is told to its sender, not thrown. */
export function typedDrawing(text: string): Drawing {
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

/** The page that draws how the goods lie, and its versions. */
export function placementPages(app: App, deps: Deps, door: BenchDoor): void {
  const { db, now, newId } = deps;

  const rendering = (bench: Bench, by: Actor, form: FormState): Rendering => {
    const { lot } = bench;
    const colours = placementColours(db, lot.id);
    const { plan, cloth, versions } = placementViews(bench.log, colours);
    const start =
      readable(form.typed['drawing']) ??
      cloth?.drawing ??
      plan?.drawing ??
      emptyDrawing(bench.plan, fibreOf(db, lot.fibreId)?.widthMm ?? null);
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
  };

  app.get('/lots/:id/placement', { config: { may: 'log' }, schema: { params: idParams } }, async (request, reply) => {
    const bench = benchOf(db, request.params.id, now());
    if (bench.lot.finishedAt !== null) return seeOther(reply, `/lots/${bench.lot.id}#placement`);
    return sendPage(request, reply, rendering(bench, actorOf(request), { typed: {}, errors: {} }));
  });

  const keep = (request: FastifyRequest, lotId: number, typed: Typed): unknown => {
    const said = door.saidDuring(lotId, typed);
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
  };

  app.post('/lots/:id/placements', { config: { may: 'log' }, schema: { params: idParams } }, async (request, reply) => {
    const lotId = request.params.id;
    // The device's outbox wants the bench, as after every other entry; a plain form goes on, or comes again.
    if (wantsPart(request)) {
      const typed = typedBody(request.body);
      return door.atBench(request, reply, lotId, 'placement', typed, () => keep(request, lotId, typed));
    }
    return submitForm(request, reply, {
      schema: z.record(z.string(), z.string()),
      save: (_, typed) => {
        keep(request, lotId, typed);
        return typed['of'] === 'plan' ? `/lots/${lotId}#placement` : `/lots/${lotId}/bench`;
      },
      again: (form) => rendering(benchOf(db, lotId, now()), actorOf(request), form),
    });
  });
}
