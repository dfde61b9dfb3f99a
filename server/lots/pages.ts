import type { FastifyRequest } from 'fastify';
import { z } from 'zod';
import { type Html, html } from '../../views/html.ts';
import type { FormState, Typed } from '../../views/kit/field.ts';
import * as show from '../../views/kit/show.ts';
import { benchSheet } from '../../views/lots/benchSheet.ts';
import { lotLabel } from '../../views/lots/lotLabel.ts';
import { lotPage } from '../../views/lots/lotPage.ts';
import { lotReadingForm } from '../../views/lots/lotReadingForm.ts';
import { lotSwatchPage } from '../../views/lots/lotSwatchPage.ts';
import { lotsPage } from '../../views/lots/lotsPage.ts';
import { placementPanel } from '../../views/lots/placement.ts';
import { planPage } from '../../views/lots/planPage.ts';
import { weighUp, weighUpWaiting } from '../../views/lots/weighUp.ts';
import { questionList } from '../../views/questions/questions.ts';
import { unitCostMinorPerGoodPiece } from '../calc/cost.ts';
import { pctTyped } from '../calc/quantity.ts';
import { depthsDyed } from '../closings/asDyed.ts';
import { namesOfLot, planNamed, upgradeWords } from '../closings/names.ts';
import { closingOf, strengthIsOfUpgrade } from '../closings/queries.ts';
import type { ColourReadingRow } from '../db/tables/swatches.ts';
import type { Actor, Deps } from '../deps.ts';
import { asRefusal, demandNone, invalid, notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { submitForm, typedBody, typedRows } from '../http/forms.ts';
import { type Rendering, sendPage, wantsPart } from '../http/page.ts';
import { addressWithCode } from '../http/qrCode.ts';
import { readMultipart } from '../http/upload.ts';
import { mixedLines } from '../orders/mixing.ts';
import { actorOf, allows } from '../people/guards.ts';
import { withPhoto } from '../photos/store.ts';
import { questionsProps } from '../questions/shown.ts';
import { hexOfReading, readingText } from '../readings/display.ts';
import { readingsOf, standingReadings } from '../readings/queries.ts';
import { recordReadings } from '../readings/recordReadings.ts';
import { typedReadings } from '../readings/schemas.ts';
import { usableReadings } from '../readings/usableReadings.ts';
import { revisionWithComponents } from '../recipes/queries.ts';
import { dayOf } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { openStockLots, stockLotById, usableStockLots } from '../stock/queries.ts';
import { addSwatch, nextCardCode } from '../swatches/addSwatch.ts';
import { ReadingForm, SwatchForm } from '../swatches/schemas.ts';
import { idParams } from '../typedFields.ts';
import { benchOf } from './benchState.ts';
import { correctionOf } from './lotCost.ts';
import { cancelledWords } from './ordersServed.ts';
import { placementColours, placementViews } from './placementPages.ts';
import { planLot, planOf, previewPlan } from './planLot.ts';
import type { Plan } from './planShape.ts';
import { containerLabel, lineView, logViews, stepViews, temperaturesOf } from './present.ts';
import {
  colourChoices,
  coloursOf,
  costLinesOf,
  fibreChoices,
  linesServed,
  listLots,
  lotById,
  methodChoices,
  openLineChoices,
  orderLineForPlan,
  outcomeOf,
  recentShades,
  stockLotIdsUsed,
  swatchesOfLot,
  swatchForPlan,
} from './queries.ts';
import { planInputOfForm } from './schemas.ts';
import { shadeCheck } from './shadeCheck.ts';

const MASS_FOUND = {
  weighedDry: 'weighed dry',
  weighedDamp: 'weighed damp, counted as conditioned',
  fromArea: 'from its area',
  fromPutUps: 'from put-ups',
  stated: 'as stated',
} as const;
const PAGE = 40;

const pct = (ppm: number): string => pctTyped({ ppm });

const PLAN = { title: 'Plan a lot', section: 'lots' } as const;

export function pages(app: App, deps: Deps): void {
  const { db, now } = deps;

  /** The depth that a colour of a lot was really dyed at; the plan's as long as it cannot be known. */
  const dyedPpmOf = (lotId: number, colour: { id: number; depthPpm: number }): number =>
    depthsDyed(db, [lotId]).find((d) => d.lotColourId === colour.id)?.dyedPpm ?? colour.depthPpm;
  const coloursAsDyed = (lotId: number) => coloursOf(db, lotId).map((c) => ({ ...c, depthPpm: dyedPpmOf(lotId, c) }));

  // ── the list ──
  app.get<{ Querystring: { status?: string; words?: string; before?: string } }>(
    '/lots',
    { config: { may: 'look' } },
    async (request, reply) => {
      const status =
        (['planned', 'onBench', 'finished', 'abandoned'] as const).find((s) => s === request.query.status) ?? null;
      const words = (request.query.words ?? '').slice(0, 100).trim();
      const before = /^[1-9]\d*$/.test(request.query.before ?? '') ? Number(request.query.before) : null;
      const rows = listLots(db, { status, words, before, limit: PAGE + 1 });
      const base = new URLSearchParams({ ...(status ? { status } : {}), ...(words ? { words } : {}) });
      const nextHref =
        rows.length > PAGE ? `/lots?${new URLSearchParams([...base, ['before', String(rows[PAGE - 1]?.id)]])}` : null;
      return sendPage(request, reply, {
        title: 'Production log',
        section: 'lots',
        body: lotsPage({
          lots: rows.slice(0, PAGE).map((r) => ({ ...r, colours: r.colours ?? '' })),
          show: showOf(db),
          status,
          words,
          nextHref,
          firstHref: before === null ? null : `/lots?${base}`,
        }),
      });
    },
  );

  // ── planning ──
  const weighUpOf = (form: FormState, plan: Plan | null): Html =>
    plan
      ? weighUp({ plan, show: showOf(db), containers: containersOf(plan) })
      : weighUpWaiting([...new Set(Object.values(form.errors))]);

  const planRendering = (form: FormState, plan: Plan | null): Rendering => {
    const rows = Math.max(
      1,
      ...Object.keys(form.typed).map((k) => Number(/^revisionId\.(\d+)$/.exec(k)?.[1] ?? -1) + 1),
    );
    const fibreId = Number(form.typed['fibreId'] ?? 0);
    const from = sourceOf(form.typed);
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
      if (id && old)
        choices.push({
          value: id,
          label: `${old.recipe.name}, revision ${old.revision.number}`,
          group: 'earlier revisions',
        });
    }
    return {
      ...PLAN,
      scripts: ['plan.js'],
      body: planPage({
        form,
        from,
        colourRowCount: rows,
        recentShades: recentShades(db),
        depths: Object.fromEntries(recipes.map((c) => [c.revisionId, pct(c.totalDepthPpm)])),
        fibres: fibreChoices(db).map((f) => ({ value: String(f.id), label: f.name, group: f.class })),
        methods: methodChoices(db).map((m) => ({ value: String(m.id), label: m.name })),
        recipes: choices,
        orderLines: openLineChoices(db).map((l) => ({ value: String(l.orderLineId), label: l.label })),
        goodsContainers: openStockLots(db, { kind: 'fibre' }).map((s) => ({
          value: String(s.id),
          label: `${s.itemName}: ${containerLabel(s)}`,
        })),
        weighUp: weighUpOf({ ...form, errors: {} }, plan),
      }),
      part: weighUpOf(form, plan),
    };

    function sourceOf(typed: Typed) {
      const swatch = typed['swatchId.0'] ? swatchForPlan(db, Number(typed['swatchId.0'])) : undefined;
      const again = typed['repeatsLotId'] ? lotById(db, Number(typed['repeatsLotId'])) : undefined;
      if (again) return html`Repeating <a href="/lots/${again.id}">lot ${again.number}</a>.`;
      if (swatch)
        return html`Like swatch <a href="/swatches/${swatch.swatch.id}">${swatch.swatch.code} ${swatch.swatch.name}</a>${fibreId !== 0 && fibreId !== swatch.swatch.fibreId && ', on other goods'}.`;
      return 'Goods, colours and a method; the weigh-up follows as you type.';
    }
  };

  const containersOf = (plan: Plan): ReadonlyMap<string, readonly { id: number; label: string }[]> =>
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

  app.get<{ Querystring: Record<string, string | undefined> }>(
    '/lots/new',
    { config: { may: 'work' } },
    async (request, reply) =>
      sendPage(request, reply, planRendering({ typed: startOf(request.query), errors: {} }, null)),
  );

  /** What the plan form starts with: from a swatch, an order line or an earlier lot. */
  function startOf(query: Record<string, string | undefined>): Record<string, string> {
    const id = (name: string): number | null =>
      /^[1-9]\d{0,14}$/.test(query[name] ?? '') ? Number(query[name]) : null;
    const typed: Record<string, string> = {
      massFound: 'weighedDry',
      goodsOwner: 'studio',
      moistureKind: 'sample',
      driedTo: 'airDry',
      solutions: 'auto',
    };
    const s = showOf(db);
    const fromSwatch = (swatchId: number): void => {
      const found = swatchForPlan(db, swatchId);
      if (!found) throw notFound('swatch');
      Object.assign(typed, {
        'revisionId.0': String(found.swatch.revisionId),
        'swatchId.0': String(swatchId),
        'depth.0': pct(found.swatch.depthPpm),
        fibreId: String(found.swatch.fibreId),
        methodId: String(found.swatch.methodId),
      });
    };
    const lotId = id('lotId');
    const lot = lotId === null ? undefined : lotById(db, lotId);
    if (lotId !== null && !lot) throw notFound('lot');
    if (lot) {
      const plan = planOf(lot);
      // Repeat it as it was done: the depth that was really weighed, on the goods that were really dyed.
      const done = query['as'] === 'done' ? benchOf(db, lot.id, now()) : null;
      const planned = coloursOf(db, lot.id);
      Object.assign(typed, {
        fibreId: String(lot.fibreId),
        methodId: String(lot.methodId),
        goodsText: lot.goodsText,
        goodsOwner: lot.goodsOwner,
        mass: show.mass(s, done?.dryMassMg ?? lot.dryMassMg),
        repeatsLotId: String(lot.id),
        coverage: plan.coverage,
        ...(lot.pieces === null ? {} : { pieces: String(lot.pieces) }),
      });
      plan.colours.forEach((c, i) => {
        Object.assign(typed, {
          [`revisionId.${i}`]: String(c.revisionId),
          [`swatchId.${i}`]: c.swatchId === null ? '' : String(c.swatchId),
          [`depth.${i}`]: pct(done && planned[i] ? dyedPpmOf(lot.id, planned[i]) : c.depthPpm),
          [`share.${i}`]: pct(c.sharePpm),
          [`placement.${i}`]: c.placement,
        });
      });
    }
    const orderLineId = id('orderLineId');
    if (orderLineId !== null) {
      const found = orderLineForPlan(db, orderLineId);
      if (!found) throw notFound('order line');
      const { line } = found;
      if (line.wantedSwatchId !== null) fromSwatch(line.wantedSwatchId);
      else if (line.wantedRevisionId !== null) {
        const revision = revisionWithComponents(db, line.wantedRevisionId);
        if (revision)
          Object.assign(typed, {
            'revisionId.0': String(line.wantedRevisionId),
            'depth.0': pct(revision.revision.totalDepthPpm),
          });
      }
      Object.assign(typed, {
        orderLineId: String(orderLineId),
        goodsText: line.description,
        ...(line.fibreId === null ? {} : { fibreId: String(line.fibreId) }),
        ...(line.pieces === null ? {} : { pieces: String(line.pieces) }),
        ...(line.dryMassMg === null ? {} : { mass: show.mass(s, line.dryMassMg) }),
      });
    }
    const swatchId = id('swatchId');
    if (swatchId !== null) fromSwatch(swatchId);
    const recipeRevisionId = id('revisionId');
    if (recipeRevisionId !== null) {
      const revision = revisionWithComponents(db, recipeRevisionId);
      if (!revision) throw notFound('recipe');
      Object.assign(typed, {
        'revisionId.0': String(recipeRevisionId),
        'depth.0': pct(revision.revision.totalDepthPpm),
      });
    }
    for (const [name, field] of [
      ['depth', 'depth.0'],
      ['mass', 'mass'],
      ['fibreId', 'fibreId'],
      ['methodId', 'methodId'],
    ] as const) {
      const value = query[name];
      if (value !== undefined && value !== '') typed[field] = value.slice(0, 60);
    }
    return typed;
  }

  // The live weigh-up: always the part that fits what is typed so far, and never an error to a person who is still typing.
  app.post('/lots/plan', { config: { may: 'work', audit: 'never' } }, async (request, reply) => {
    const typed = typedBody(request.body);
    // What the goods are called changes no figure: the weigh-up does not wait for it.
    const outcome = attempt(() =>
      previewPlan(deps, planInputOfForm({ ...typed, goodsText: typed['goodsText'] || '—' })),
    );
    const form = { typed, errors: outcome.errors };
    // While one types only the weigh-up is wanted: the page around it lists every recipe of the studio.
    if (wantsPart(request)) {
      const { title, section } = PLAN;
      return sendPage(request, reply, { title, section, body: weighUpOf(form, outcome.value) });
    }
    return sendPage(request, reply, { ...planRendering(form, outcome.value), status: 200 });
  });

  app.post('/lots', { config: { may: 'work' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: z.record(z.string(), z.string()),
      save: (typed) =>
        `/lots/${planLot(deps, planInputOfForm(typed), actorOf(request)).id}${typed['goOn'] === 'bench' ? '/bench' : ''}`,
      again: (form) => planRendering(form, attempt(() => previewPlan(deps, planInputOfForm(form.typed))).value),
    }),
  );

  // ── a lot ──
  const lotRendering = (
    lotId: number,
    may: { work: boolean; log: boolean; by: Actor },
    form: FormState = { typed: {}, errors: {} },
  ): Rendering => {
    const bench = benchOf(db, lotId, now());
    const { lot } = bench;
    const colours = coloursOf(db, lotId);
    const closing = closingOf(db, lotId);
    const names = namesOfLot(db, lotId);
    const depths = depthsDyed(db, [lotId]);
    // A closed lot tells its times as its own day had them.
    const s = closing ? { ...showOf(db), zone: closing.zone } : showOf(db);
    const outcome = outcomeOf(db, lotId);
    const costs = costLinesOf(db, lotId);
    const sum = (...kinds: string[]): number =>
      costs.filter((c) => kinds.includes(c.kind)).reduce((t, c) => t + c.costMinor, 0);
    const served = linesServed(db, lotId);
    const mixed = [...new Set(served.map((l) => l.orderId))].flatMap((orderId) => mixedLines(db, orderId));
    const repeats = lot.repeatsLotId === null ? undefined : lotById(db, lot.repeatsLotId);
    return {
      title: `Lot ${lot.number}`,
      section: 'lots',
      body: lotPage({
        lotId,
        number: lot.number,
        status: lot.status,
        plan: bench.plan,
        fibre: names.called('fibre', lot.fibreId) ?? null,
        method: names.called('method', lot.methodId) ?? null,
        fromUpgrade: upgradeWords({
          namesKept: closing?.kept !== 'atUpgrade',
          strengthKept: !strengthIsOfUpgrade(db, lotId),
        }),
        otherZone: closing && closing.zone !== theStudio(db).zone ? closing.zone : null,
        dryMassMg: bench.dryMassMg,
        massFoundWords: MASS_FOUND[lot.massFound],
        plannedAt: lot.plannedAt,
        plannedBy: names.called('person', lot.plannedBy)?.name ?? '',
        startedAt: lot.startedAt,
        finishedAt: lot.finishedAt,
        repeats: repeats ? { id: repeats.id, number: repeats.number } : null,
        lines: bench.lines.map((l) => {
          const { component: c } = l;
          const called = c.dyeId === null ? names.called('auxiliary', c.auxiliaryId) : names.called('dye', c.dyeId);
          return { ...lineView(l, colours, []), nowCalled: called?.nowCalled ?? null };
        }),
        steps: stepViews(bench),
        log: logViews(db, bench),
        temperatures: temperaturesOf(bench.log),
        lastAt: Math.max(0, ...bench.log.map((e) => e.at)),
        questions: questionList(questionsProps(db, { lotId }, may.by, `/lots/${lotId}`)),
        placement: placementPanel({
          ...placementViews(bench.log, placementColours(db, lotId)),
          colours: placementColours(db, lotId),
          show: s,
          drawHref: lot.finishedAt === null && may.log ? `/lots/${lotId}/placement` : null,
        }),
        adjusted: bench.lines.some((l) => l.target !== l.planned),
        outcome: outcome ?? null,
        costLines: costs.map((c) => ({ ...c, correction: correctionOf(c), wasted: c.wasted === 1 })),
        unitCostMinor:
          outcome && outcome.firstQuality > 0 && costs.length > 0
            ? Math.round(
                unitCostMinorPerGoodPiece({
                  materialsMinor: sum('dye', 'auxiliary', 'goods', 'other'),
                  labourMinor: sum('labour'),
                  overheadMinor: sum('overhead'),
                  reworkMinor: 0,
                  secondsNetValueMinor: outcome.secondsValueMinor,
                  goodCount: outcome.firstQuality,
                }),
              )
            : null,
        cancelled: cancelledWords(db, lot.id),
        served: served.map((l) => ({
          orderId: l.orderId,
          orderNumber: l.orderNumber,
          orderNumberNow: l.orderNumberNow,
          customerName: l.customerName,
          customerNameNow: l.customerNameNow,
          description: l.description,
          tolerance:
            l.toleranceFormula === null
              ? null
              : `${l.toleranceFormula}${l.toleranceMilli === null ? '' : ` ${l.toleranceMilli / 1000}`}`,
          mixed: mixed.find((m) => m.orderLineId === l.orderLineId && m.lotNumbers.includes(lot.number)) ?? null,
        })),
        colours: colours.map((c) => ({
          ...c,
          depth: depths.find((d) => d.lotColourId === c.id) ?? null,
        })),
        readings: lotReadings(lotId, colours, served),
        swatches: swatchesOfLot(db, lotId),
        mayWork: may.work,
        show: s,
        readingForm: lot.finishedAt !== null && may.work ? lotReadingForm({ lotId, form }) : '',
      }),
    };
  };

  function lotReadings(lotId: number, colours: ReturnType<typeof coloursOf>, served: ReturnType<typeof linesServed>) {
    const standardOf = colours.find((c) => c.swatchId !== null);
    const ofStandard =
      standardOf?.swatchId && colours.length === 1 ? readingsOf(db, { swatchId: standardOf.swatchId }) : [];
    const standing = usableReadings(ofStandard.filter((r) => r.withdrawnAt === null))[0];
    const wanted = served.find((l) => l.toleranceFormula !== null);
    const check = (standard: ColourReadingRow, sample: ColourReadingRow): string =>
      shadeCheck({
        standard,
        standardName: `swatch ${standardOf?.swatchCode}`,
        sample,
        formula: wanted?.toleranceFormula ?? null,
        limitMilli: wanted?.toleranceMilli ?? null,
      });
    return standingReadings(db, { lotId }).map((r) => {
      // Judged against what was known of the standard when the lot was read: a card that is read anew judges no lot again.
      const [then] = usableReadings(
        ofStandard.filter((s) => s.readAt <= r.readAt && (s.withdrawnAt === null || s.withdrawnAt > r.readAt)),
      );
      const judgedBy = then ?? standing;
      const since =
        judgedBy === undefined || judgedBy.id === standing?.id
          ? ''
          : standing
            ? `. Its card has been read anew since; by that, ${check(standing, r)}`
            : '. That reading of its card has been withdrawn since';
      return {
        hex: hexOfReading(r).hex,
        text: readingText(r),
        difference: judgedBy ? `${check(judgedBy, r)}${since}` : null,
      };
    });
  }

  const mayDo = (request: FastifyRequest): { work: boolean; log: boolean; by: Actor } => ({
    by: actorOf(request),
    work: allows(request.actor, 'work'),
    log: allows(request.actor, 'log'),
  });

  app.get('/lots/:id', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) =>
    sendPage(request, reply, lotRendering(request.params.id, mayDo(request))),
  );

  app.get('/lots/:id/sheet', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) => {
    const lot = lotById(db, request.params.id);
    if (!lot) throw notFound('lot');
    return sendPage(request, reply, {
      title: `Bench sheet ${lot.number}`,
      section: 'lots',
      shape: 'paper',
      body: benchSheet({
        number: lot.number,
        lotId: lot.id,
        plan: planNamed(planOf(lot), namesOfLot(db, lot.id), coloursOf(db, lot.id)),
        show: showOf(db),
        served: linesServed(db, lot.id).map((l) => `${l.customerName}, ${l.orderNumber}: ${l.description}`),
        qrSvg: addressWithCode(request, `/lots/${lot.id}/bench`).qrSvg,
      }),
    });
  });

  app.get('/lots/:id/label', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) => {
    const lot = lotById(db, request.params.id);
    if (!lot) throw notFound('lot');
    const studio = theStudio(db);
    return sendPage(request, reply, {
      title: `Label ${lot.number}`,
      section: 'lots',
      shape: 'paper',
      body: lotLabel({
        lotId: lot.id,
        number: lot.number,
        studioName: studio.name,
        goodsText: lot.goodsText,
        fibreName: namesOfLot(db, lot.id).called('fibre', lot.fibreId)?.name ?? planOf(lot).fibreName,
        colours: coloursAsDyed(lot.id),
        customers: linesServed(db, lot.id).map((l) => `${l.customerName}, ${l.orderNumber}`),
        dyedOn: closingOf(db, lot.id)?.closedOn ?? null,
        qrSvg: addressWithCode(request, `/lots/${lot.id}`).qrSvg,
      }),
    });
  });

  app.post('/lots/:id/readings', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: ReadingForm,
      shape: (typed) => ({ ...typed, readings: typedRows(typed, ['colour', 'share']) }),
      save: (input) => {
        const { inputs, errors } = typedReadings(input);
        if (inputs.length === 0 && Object.keys(errors).length === 0)
          throw invalid({ 'colour.0': 'Type a colour first.' });
        demandNone(errors);
        recordReadings(db, { lotId: request.params.id }, inputs, actorOf(request), now());
        return `/lots/${request.params.id}#colour`;
      },
      again: (form) => lotRendering(request.params.id, mayDo(request), form),
    }),
  );

  // ── a swatch of it ──
  const swatchRendering = (lotId: number, form: FormState | null): Rendering => {
    const lot = lotById(db, lotId);
    if (!lot) throw notFound('lot');
    const colours = coloursOf(db, lotId);
    const depths = depthsDyed(db, [lotId]);
    const first = colours[0];
    return {
      title: `Swatch of lot ${lot.number}`,
      section: 'swatches',
      body: lotSwatchPage({
        lotId,
        number: lot.number,
        colours: colours.map((c) => ({
          value: String(c.id),
          label: `${c.recipeName} at ${show.depthDyed(depths.find((d) => d.lotColourId === c.id)?.dyedPpm ?? c.depthPpm)}`,
        })),
        hasReading: standingReadings(db, { lotId }).length > 0,
        form: form ?? {
          errors: {},
          typed: {
            code: nextCardCode(db),
            name: first?.recipeName ?? '',
            lotColourId: String(first?.id ?? ''),
            dyedOn: closingOf(db, lotId)?.closedOn ?? dayOf(now(), theStudio(db).zone),
            takeReading: 'yes',
            readingSource: 'typed',
            illuminant: 'D65',
            observer: '10',
          },
        },
      }),
    };
  };

  app.get('/lots/:id/swatch', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) =>
    sendPage(request, reply, swatchRendering(request.params.id, null)),
  );

  const LotSwatchForm = SwatchForm.omit({
    revisionId: true,
    depth: true,
    fibreId: true,
    methodId: true,
    stockLots: true,
  }).extend({ lotColourId: z.string(), takeReading: z.literal('yes').optional() });
  app.post('/lots/:id/swatch', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const lotId = request.params.id;
    const lot = lotById(db, lotId);
    if (!lot) throw notFound('lot');
    const { files } = await readMultipart(request);
    return submitForm(request, reply, {
      schema: LotSwatchForm,
      shape: (typed) => ({ ...typed, readings: typedRows(typed, ['colour', 'share']) }),
      save: async (input) => {
        const colour = coloursOf(db, lotId).find((c) => String(c.id) === input.lotColourId);
        if (!colour) throw invalid({ lotColourId: 'Which colour of the lot is it?' });
        const { inputs, errors } = typedReadings(input);
        demandNone(errors);
        const own = input.takeReading === 'yes' ? usableReadings(standingReadings(db, { lotId })) : [];
        const by = actorOf(request);
        const components = revisionWithComponents(db, colour.revisionId)?.components.map((c) => c.dye.id) ?? [];
        const swatch = await withPhoto(deps, files[0]?.buffer, by, (photoId) =>
          addSwatch(
            db,
            {
              code: input.code,
              name: input.name,
              revisionId: colour.revisionId,
              depthPpm: dyedPpmOf(lotId, colour),
              fibreId: lot.fibreId,
              methodId: lot.methodId,
              lotId,
              dryMassMg: input.dryMass,
              dyedOn: input.dyedOn,
              cardPlace: input.cardPlace,
              photoId,
              rating: input.rating,
              note: input.note,
              stockLotIds: stockLotIdsUsed(db, lotId).filter((id) =>
                components.includes(stockLotById(db, id)?.dyeId ?? -1),
              ),
              readings: [
                ...inputs,
                ...own.map((r) => ({
                  colour: { l: r.l, a: r.a, b: r.b, illuminant: r.illuminant, observer: r.observer },
                  source: r.source,
                  asTyped: r.asTyped,
                  areaSharePpm: r.areaSharePpm,
                  uncertaintyMilli: r.uncertaintyMilli,
                  note: `read on lot ${lot.number}`,
                })),
              ],
            },
            by,
            now(),
          ),
        );
        return `/swatches/${swatch.id}`;
      },
      again: (form) => swatchRendering(lotId, form),
    });
  });
}

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
