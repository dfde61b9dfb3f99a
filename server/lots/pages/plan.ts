import { z } from 'zod';
import { type Html, html } from '../../../views/html.ts';
import type { FormState, Typed } from '../../../views/kit/field.ts';
import * as show from '../../../views/kit/show.ts';
import { planPage } from '../../../views/lots/plan.ts';
import { weighUp, weighUpWaiting } from '../../../views/plans/weighUp.ts';
import { pctTyped } from '../../calc/quantity.ts';
import type { Db } from '../../db/open.ts';
import { asRefusal } from '../../errors.ts';
import { submitForm, typedBody } from '../../http/forms.ts';
import { type Rendering, sendPage, wantsPart } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { containerLabel } from '../../plans/present.ts';
import { previewPlan } from '../../plans/previewPlan.ts';
import { colourChoices, fibreChoices, methodChoices, recentShades, swatchForPlan } from '../../plans/queries.ts';
import { type Plan, planInputOfForm } from '../../plans/schemas.ts';
import { revisionWithComponents } from '../../recipes/queries.ts';
import { showOf } from '../../settings/show.ts';
import { openStockLots, usableStockLots } from '../../stock/queries.ts';
import { planLot } from '../planLot.ts';
import { lotById, openLineChoices } from '../queries.ts';
import { PlanStart, planStart } from './planStart.ts';

const PLAN = { title: 'Plan a lot', section: 'lots' } as const;

export const newPlan = page({
  query: PlanStart,
  show: (deps, { query, request, reply }) =>
    sendPage(request, reply, formPage(deps.db, { typed: planStart(deps, query), errors: {} }, null)),
});

/** The live weigh-up: always the part that fits what is typed so far, and never an error to a person who is still typing. */
export const previewTypedPlan = page({
  show(deps, { request, reply }) {
    const typed = typedBody(request.body);
    // What the goods are called changes no figure: the weigh-up does not wait for it.
    const outcome = attempt(() =>
      previewPlan(deps, planInputOfForm({ ...typed, goodsText: typed['goodsText'] || '—' })),
    );
    const form = { typed, errors: outcome.errors };
    // While one types only the weigh-up is wanted: the page around it lists every recipe of the studio.
    if (wantsPart(request))
      return sendPage(request, reply, { ...PLAN, body: weighUpPart(deps.db, form, outcome.value) });
    return sendPage(request, reply, { ...formPage(deps.db, form, outcome.value), status: 200 });
  },
});

export const planTypedLot = page({
  show: (deps, { request, reply }) =>
    submitForm(request, reply, {
      schema: z.record(z.string(), z.string()),
      save: (typed) =>
        `/lots/${planLot(deps, planInputOfForm(typed), actorOf(request)).id}${typed['goOn'] === 'bench' ? '/bench' : ''}`,
      again: (form) => formPage(deps.db, form, attempt(() => previewPlan(deps, planInputOfForm(form.typed))).value),
    }),
});

const weighUpPart = (db: Db, form: FormState, plan: Plan | null): Html =>
  plan
    ? weighUp({ plan, show: showOf(db), containers: containersOf(db, plan) })
    : weighUpWaiting([...new Set(Object.values(form.errors))]);

function formPage(db: Db, form: FormState, plan: Plan | null): Rendering {
  const rowOf = (name: string): number => Number(/^revisionId\.(\d+)$/.exec(name)?.[1] ?? -1) + 1;
  const rows = Math.max(1, ...Object.keys(form.typed).map(rowOf));
  const recipes = colourChoices(db);
  const choices = recipes.map((c) => ({
    value: String(c.revisionId),
    label: `${c.recipeName} (${show.percent(c.totalDepthPpm)})`,
    group: c.dyeClass,
  }));
  // An older revision, reached from a swatch or an earlier lot, is a choice too.
  for (let i = 0; i < rows; i++) {
    const id = form.typed[`revisionId.${i}`];
    const old = id && !choices.some((c) => c.value === id) ? revisionWithComponents(db, Number(id)) : undefined;
    if (id && old) {
      const label = `${old.recipe.name}, revision ${old.revision.number}`;
      choices.push({ value: id, label, group: 'earlier revisions' });
    }
  }
  return {
    ...PLAN,
    scripts: ['plan.js'],
    body: planPage({
      form,
      from: sourceWords(db, form.typed),
      colourRowCount: rows,
      recentShades: recentShades(db),
      depths: Object.fromEntries(recipes.map((c) => [c.revisionId, pctTyped({ ppm: c.totalDepthPpm })])),
      fibres: fibreChoices(db).map((f) => ({ value: String(f.id), label: f.name, group: f.class })),
      methods: methodChoices(db).map((m) => ({ value: String(m.id), label: m.name })),
      recipes: choices,
      orderLines: openLineChoices(db).map((l) => ({ value: String(l.orderLineId), label: l.label })),
      goodsContainers: openStockLots(db, { kind: 'fibre' }).map((s) => ({
        value: String(s.id),
        label: `${s.itemName}: ${containerLabel(s)}`,
      })),
      weighUp: weighUpPart(db, { ...form, errors: {} }, plan),
    }),
    part: weighUpPart(db, form, plan),
  };
}

/** Where the plan came from. */
function sourceWords(db: Db, typed: Typed): Html | string {
  const swatch = typed['swatchId.0'] ? swatchForPlan(db, Number(typed['swatchId.0']))?.swatch : undefined;
  const again = typed['repeatsLotId'] ? lotById(db, Number(typed['repeatsLotId'])) : undefined;
  if (again) return html`Repeating <a href="/lots/${again.id}">lot ${again.number}</a>.`;
  if (!swatch) return 'Goods, colours and a method; the weigh-up follows as you type.';
  const fibreId = Number(typed['fibreId'] ?? 0);
  return html`Like swatch <a href="/swatches/${swatch.id}">${swatch.code} ${swatch.name}</a>${fibreId !== 0 && fibreId !== swatch.fibreId && ', on other goods'}.`;
}

const containersOf = (db: Db, plan: Plan): ReadonlyMap<string, readonly { id: number; label: string }[]> =>
  new Map(
    plan.lines
      .filter((l) => l.concPpm === null)
      .map((l) => [
        l.kind === 'dye' ? `dye:${l.dyeId}` : `auxiliary:${l.auxiliaryId}`,
        usableStockLots(db, { dyeId: l.dyeId, auxiliaryId: l.auxiliaryId })
          .filter((s) => s.concPpm === null)
          .map((s) => ({ id: s.id, label: containerLabel(s) })),
      ]),
  );

/** The value, or the messages of a refusal; anything else is thrown on. */
function attempt<T>(make: () => T): { value: T | null; errors: Readonly<Record<string, string>> } {
  try {
    return { value: make(), errors: {} };
  } catch (error) {
    const refusal = asRefusal(error);
    if (!refusal) throw error;
    return { value: null, errors: Object.keys(refusal.fields).length > 0 ? refusal.fields : { '': refusal.message } };
  }
}
