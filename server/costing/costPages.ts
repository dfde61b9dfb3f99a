import { z } from 'zod';
import { costsPage } from '../../views/costing/costsPage.ts';
import { linesPage } from '../../views/costing/linesPage.ts';
import { correctionForm, lotCostPage } from '../../views/costing/lotCostPage.ts';
import { shadePage } from '../../views/costing/shadePage.ts';
import { emptyForm, type FieldErrors, type FormState } from '../../views/kit/field.ts';
import { plainMoney } from '../../views/kit/show.ts';
import { marginPct, markupPct } from '../calc/cost.ts';
import { durationText } from '../calc/quantity.ts';
import type { Deps } from '../deps.ts';
import { asRefusal, notFound } from '../errors.ts';
import type { App } from '../http/app.ts';
import { submitForm, typedBody, zodFieldErrors } from '../http/forms.ts';
import { type Rendering, sendPage } from '../http/page.ts';
import { lotById } from '../lots/queries.ts';
import { actorOf, allows } from '../people/guards.ts';
import { planOf } from '../plans/planOf.ts';
import { dayOf } from '../settings/days.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { idParams } from '../typedFields.ts';
import { writtenLines } from './additionPages.ts';
import { correctCostLine, standingLines } from './corrections.ts';
import { type CostGroup, type Costs, costGroups, nothingSpent, perGoodPiece, perKg } from './groups.ts';
import { filterOf, found } from './historyPages.ts';
import {
  type CostLineOfLot,
  costedLotById,
  costLineById,
  costLineRowsOf,
  costLinesOf,
  goodsTextsOf,
  historyChoices,
  ledgerOfLot,
  linesOfLots,
  reworkedBy,
} from './queries.ts';
import { lastTwelveMonths, usualRanges } from './ranges.ts';
import { jobOf, noteRework } from './rework.ts';
import {
  CorrectionBody,
  CorrectionForm,
  CostGroupsResource,
  CostingFilter,
  type CostKind,
  GroupFilter,
  type Grouping,
  groupings,
  JobResource,
  ReworkForm,
  ShadeCostResource,
  WrittenLinesResource,
} from './schemas.ts';
import { changeBetween, shadeSeries } from './shade.ts';

const GROUPS_SHOWN = 80;
const LOTS_OF_LINES = 60;

const NONE: Record<Grouping, string> = {
  lot: '',
  order: 'for no order',
  customer: 'for no customer',
  shade: 'no recipe',
  method: '',
  fibre: '',
  month: '',
};

const HREFS: Partial<Record<Grouping, (key: string) => string>> = {
  lot: (key) => `/costing/lots/${key}`,
  order: (key) => `/orders/${key}`,
  customer: (key) => `/customers/${key}`,
  shade: (key) => `/costing/shades/${key}`,
  method: (key) => `/methods/${key}`,
  fibre: (key) => `/fibres/${key}`,
};

const monthName = (month: string): string =>
  new Intl.DateTimeFormat('en-GB', { timeZone: 'UTC', month: 'long', year: 'numeric' }).format(
    Date.parse(`${month}-01T00:00:00Z`),
  );

/** A group's name on a page. */
const labelOf = (by: Grouping, g: Pick<CostGroup, 'key' | 'label'>): string =>
  g.key === '' ? NONE[by] : by === 'month' ? monthName(g.label) : g.label;

const figuresOf = (c: Costs) => ({
  byKind: c.byKind,
  totalMinor: c.totalMinor,
  estimateMinor: c.estimateMinor,
  dryMassMg: c.dryMassMg,
  goodPieces: c.goodPieces,
  perKgMinor: perKg(c),
  perPieceMinor: perGoodPiece(c),
});

const lineItem = (l: CostLineOfLot) => ({ ...l });

/** The conditions that an address carries on, without those that are empty. */
const carried = (typed: Record<string, string>, more: Record<string, string>): string =>
  String(
    new URLSearchParams(
      Object.entries({
        from: typed['from'] ?? '',
        to: typed['to'] ?? '',
        order: typed['order'] ?? '',
        customerId: typed['customerId'] ?? '',
        methodId: typed['methodId'] ?? '',
        fibreId: typed['fibreId'] ?? '',
        ...more,
      }).filter(([name, value]) => value !== '' || name === 'from' || name === 'to' || name === 'of'),
    ),
  );

/** What the plan of a lot foresaw, by kind. */
function estimateByKind(planJson: string): Costs['byKind'] {
  const { byKind } = nothingSpent();
  for (const line of planOf({ planJson }).estimate ?? []) byKind[line.kind] += line.costMinor;
  return byKind;
}

export function pages(app: App, deps: Deps): void {
  const { db } = deps;
  const zone = (): string => theStudio(db).zone;

  app.get('/costing', { config: { may: 'look' } }, async (request, reply) => {
    const todayOn = dayOf(deps.now(), zone());
    const asked = typedBody(request.query);
    const year = lastTwelveMonths(todayOn);
    const typed: Record<string, string> =
      'from' in asked || 'to' in asked ? asked : { ...asked, from: year.from, to: year.to };
    const parsed = CostingFilter.safeParse(typed);
    const by = parsed.success ? parsed.data.by : 'shade';
    const { filter, errors }: { filter: ReturnType<typeof filterOf> | null; errors: FieldErrors } = parsed.success
      ? found(db, parsed.data)
      : { filter: null, errors: zodFieldErrors(parsed.error) };
    const isRefused = Object.keys(errors).length > 0;
    const costs = filter === null || isRefused ? null : await costGroups(db, filter, by, () => false);
    const choices = historyChoices(db);
    const options = (list: { id: number; name: string }[]) =>
      list.map(({ id, name }) => ({ value: String(id), label: name }));
    return sendPage(request, reply, {
      title: 'Costing',
      section: 'costing',
      status: isRefused ? 422 : 200,
      body: costsPage({
        by,
        form: { typed, errors },
        choices: {
          customers: options(choices.customers),
          methods: options(choices.methods),
          fibres: options(choices.fibres),
        },
        tabs: groupings.map((g) => ({ by: g, href: `/costing?${carried(typed, { by: g })}` })),
        ranges: [year, ...usualRanges(todayOn)].map(({ label, from, to }) => ({
          label,
          href: `/costing?${carried({ ...typed, from, to }, { by })}`,
          current: typed['from'] === from && typed['to'] === to,
        })),
        groups:
          costs?.groups.slice(0, GROUPS_SHOWN).map((g) => ({
            ...figuresOf(g),
            key: g.key,
            label: labelOf(by, g),
            nowCalled: g.label === g.labelNow ? null : g.labelNow,
            href: g.key === '' ? null : (HREFS[by]?.(g.key) ?? null),
            linesHref: `/costing/lines?${carried(typed, { by, of: g.key })}`,
            lotCount: g.lotCount,
          })) ?? null,
        hidden: Math.max(0, (costs?.groups.length ?? 0) - GROUPS_SHOWN),
        total:
          costs === null
            ? null
            : {
                ...figuresOf(costs.total),
                key: '',
                label: 'all',
                nowCalled: null,
                href: null,
                linesHref: `/costing/lines?${carried(typed, { by })}`,
                lotCount: costs.lotCount,
              },
        show: showOf(db),
      }),
    });
  });

  app.get(
    '/costing/lines',
    { config: { may: 'look' }, schema: { querystring: GroupFilter } },
    async (request, reply) => {
      const asked = request.query;
      const { by, of, kind, page } = asked;
      const typed = typedBody(request.query as unknown);
      const raw = typedBody(Object.fromEntries(new URL(request.url, 'http://studio').searchParams));
      const { groups } = await costGroups(
        db,
        filterOf(db, asked),
        of === undefined ? 'lot' : by,
        (key) => of === undefined || key === of,
      );
      const group = of === undefined ? null : groups.find((g) => g.key === of);
      if (group === undefined) throw notFound('group of costs in these days');
      const parts = (group === null ? groups.flatMap((g) => g.lots) : [...group.lots].reverse()).filter(
        (p) => kind === undefined || p.byKind[kind] !== 0 || p.totalMinor === 0,
      );
      const figure = (c: Costs): number => (kind === undefined ? c.totalMinor : c.byKind[kind]);
      const shown = parts.slice((page - 1) * LOTS_OF_LINES, page * LOTS_OF_LINES);
      const lines = costLinesOf(
        db,
        shown.map((p) => p.lot.lotId),
      );
      const goodsTexts = new Map(
        goodsTextsOf(
          db,
          shown.map((p) => p.lot.lotId),
        ).map((l) => [l.lotId, l.goodsText]),
      );
      const href = (n: number): string =>
        `/costing/lines?${carried(raw, { by, ...(of === undefined ? {} : { of }), ...(kind ? { kind } : {}), page: String(n) })}`;
      const name = group === null ? 'All lots' : labelOf(by, group);
      return sendPage(request, reply, {
        title: 'Cost lines',
        section: 'costing',
        body: linesPage({
          title: kind ? `${KIND_WORDS[kind]}: ${name}` : `Cost: ${name}`,
          backHref: `/costing?${carried({ ...typed, ...raw }, { by })}`,
          lots: shown.map((p) => {
            const own = lines.filter((l) => l.lotId === p.lot.lotId && (kind === undefined || l.kind === kind));
            return {
              lotId: p.lot.lotId,
              number: p.lot.number,
              finishedOn: p.lot.closedOn,
              goodsText: goodsTexts.get(p.lot.lotId) ?? '',
              sharePpm: p.sharePpm,
              lines: own.map(lineItem),
              linesMinor: own.reduce((sum, l) => sum + l.costMinor, 0),
              partMinor: figure(p),
              estimateMinor: p.estimateMinor,
            };
          }),
          lotCount: parts.length,
          figureMinor: parts.reduce((sum, p) => sum + figure(p), 0),
          estimateMinor: kind === undefined ? parts.reduce((sum, p) => sum + p.estimateMinor, 0) : null,
          nextHref: page * LOTS_OF_LINES < parts.length ? href(page + 1) : null,
          firstHref: page === 1 ? null : href(1),
          show: showOf(db),
        }),
      });
    },
  );

  const lotPage = (
    lotId: number,
    may: { own: boolean; work: boolean },
    reworkForm: FormState = emptyForm,
  ): Rendering => {
    const lot = costedLotById(db, lotId);
    const row = lotById(db, lotId);
    if (!lot || !row) throw notFound('closed lot');
    const lines = costLinesOf(db, [lotId]);
    const standing = new Set(standingLines(costLineRowsOf(db, lotId)).map((l) => l.id));
    const { byKind, totalMinor } = lines.reduce((sum, l) => {
      sum.byKind[l.kind] += l.costMinor;
      sum.totalMinor += l.costMinor;
      return sum;
    }, nothingSpent());
    const job = jobOf(db, lotId);
    const ofId = reworkedBy(db, lotId);
    const of = ofId === null ? undefined : lotById(db, ofId);
    return {
      title: `Cost of lot ${lot.number}`,
      section: 'costing',
      body: lotCostPage({
        lotId,
        number: lot.number,
        goodsText: row.goodsText,
        dryMassMg: lot.dryMassMg,
        totalMinor,
        estimateMinor: lot.estimateMinor,
        perKgMinor: perKg({ totalMinor, dryMassMg: lot.dryMassMg }),
        byKind,
        estimateByKind: estimateByKind(row.planJson),
        lines: lines.map((l) => ({ ...lineItem(l), stands: standing.has(l.costLineId) })),
        ledger: ledgerOfLot(db, lotId),
        job,
        reworkOf: of ? { lotId: of.id, number: of.number } : null,
        prices: linesOfLots(db, [lotId]).flatMap((l) => {
          if (l.linePriceMinor === null || l.linePieces === null || !job.unitCostMinor || job.unitCostMinor <= 0)
            return [];
          const pieceMinor = l.linePriceMinor / l.linePieces;
          if (pieceMinor <= 0) return [];
          const against = { priceMinor: pieceMinor, costMinor: job.unitCostMinor };
          return [
            {
              orderId: l.orderId,
              orderNumber: l.orderNumber,
              description: l.description,
              pieceMinor,
              markupPct: markupPct(against),
              marginPct: marginPct(against),
            },
          ];
        }),
        reworkForm: reworkForm === emptyForm ? { typed: { ofNumber: of?.number ?? '' }, errors: {} } : reworkForm,
        mayOwn: may.own,
        mayWork: may.work,
        show: showOf(db),
      }),
    };
  };
  const mayOf = (actor: Parameters<typeof allows>[0]) => ({ own: allows(actor, 'own'), work: allows(actor, 'work') });

  app.get('/costing/lots/:id', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) =>
    sendPage(request, reply, lotPage(request.params.id, mayOf(request.actor))),
  );
  app.post(
    '/costing/lots/:id/rework',
    { config: { may: 'work' }, schema: { params: idParams } },
    async (request, reply) => {
      const lotId = request.params.id;
      return submitForm(request, reply, {
        schema: ReworkForm,
        save: ({ ofNumber }) => {
          noteRework(deps, { lotId, ofNumber }, actorOf(request));
          return `/costing/lots/${lotId}#rework`;
        },
        again: (form) => lotPage(lotId, mayOf(request.actor), form),
      });
    },
  );

  app.get('/costing/shades/:id', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) => {
    const recipeId = request.params.id;
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
  });

  // ── corrections ──
  const lineToCorrect = (costLineId: number): { line: CostLineOfLot; lotNumber: string } => {
    const row = costLineById(db, costLineId);
    const line = row && costLinesOf(db, [row.lotId]).find((l) => l.costLineId === costLineId);
    const lot = row && lotById(db, row.lotId);
    if (!line || !lot) throw notFound('cost line');
    return { line, lotNumber: lot.number };
  };
  const correctionPage = (costLineId: number, form: FormState): Rendering => {
    const { line, lotNumber } = lineToCorrect(costLineId);
    return {
      title: 'Correct a cost line',
      section: 'costing',
      body: correctionForm({ line: lineItem(line), lotId: line.lotId, lotNumber, form, show: showOf(db) }),
    };
  };
  app.get(
    '/costing/lines/:id/correction/new',
    { config: { may: 'own' }, schema: { params: idParams } },
    async (request, reply) => {
      const { line } = lineToCorrect(request.params.id);
      const typed = {
        stands: 'line',
        quantity: typedQuantity(line.quantityUnit, line.quantity),
        price: plainMoney(showOf(db), line.priceMinor),
        perQuantity: typedQuantity(line.quantityUnit, line.perQuantity),
      };
      return sendPage(request, reply, correctionPage(request.params.id, { typed, errors: {} }));
    },
  );
  app.post(
    '/costing/lines/:id/correction',
    { config: { may: 'own' }, schema: { params: idParams } },
    async (request, reply) => {
      const { line } = lineToCorrect(request.params.id);
      const isRemoval = typedBody(request.body)['stands'] === 'nothing';
      return submitForm(request, reply, {
        schema: CorrectionForm({ currency: theStudio(db).currency, unit: line.quantityUnit, isRemoval }),
        save: (input) => {
          const replacement =
            input.stands === 'nothing'
              ? null
              : { quantity: input.quantity, priceMinor: input.price, perQuantity: input.perQuantity };
          correctCostLine(deps, { costLineId: line.costLineId, reason: input.reason, replacement }, actorOf(request));
          return `/costing/lots/${line.lotId}#lines`;
        },
        again: (form) => correctionPage(request.params.id, form),
      });
    },
  );
}

const KIND_WORDS: Record<CostKind, string> = {
  dye: 'Dye',
  auxiliary: 'Auxiliaries',
  goods: 'Goods',
  labour: 'Labour',
  overhead: 'Overhead',
  other: 'Other',
};

/** A quantity as one would type it, exactly. */
function typedQuantity(unit: CostLineOfLot['quantityUnit'], quantity: number): string {
  if (unit === 'mg') return `${quantity / 1000} g`;
  if (unit === 'ul') return `${quantity / 1000} mL`;
  if (unit === 's') return quantity % 60 === 0 ? durationText({ durationS: quantity }) : `${quantity} s`;
  return String(quantity);
}

export function api(app: App, deps: Deps): void {
  const { db } = deps;
  const tags = ['Costing'];

  app.get(
    '/costing',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'listCostGroups',
        tags,
        summary: 'Costs by lot, order, customer, shade, method, fibre or month; the groups add to the total',
        querystring: CostingFilter,
        response: { 200: CostGroupsResource },
      },
    },
    async ({ query }) => {
      const { groups, total, lotCount } = await costGroups(db, filterOf(db, query), query.by, () => true);
      return {
        currency: theStudio(db).currency,
        by: query.by,
        lotCount,
        total: figuresOf(total),
        groups: groups.map((g) => ({
          ...figuresOf(g),
          key: g.key,
          label: labelOf(query.by, g),
          labelNow: labelOf(query.by, { key: g.key, label: g.labelNow }),
          lots: g.lots.map((p) => ({
            lotId: p.lot.lotId,
            number: p.lot.number,
            sharePpm: p.sharePpm,
            totalMinor: p.totalMinor,
          })),
        })),
      };
    },
  );

  app.get(
    '/costing/lots/:id',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getLotCost',
        tags,
        summary: 'A lot and its rework as one job: unit cost of a good piece, yield, right first time',
        params: idParams,
        response: { 200: JobResource },
      },
    },
    async (request) => jobOf(db, request.params.id),
  );

  app.get(
    '/costing/shades/:id',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getShadeCost',
        tags,
        summary: 'What a kilogram of a shade cost, lot by lot; with earlier and later, why it changed',
        params: idParams,
        querystring: z.object({
          earlier: z.coerce.number().int().positive().optional(),
          later: z.coerce.number().int().positive().optional(),
        }),
        response: { 200: ShadeCostResource },
      },
    },
    async (request) => {
      const { earlier, later } = request.query;
      const { name, lots } = shadeSeries(db, request.params.id);
      const change = earlier !== undefined && later !== undefined ? changeBetween(db, lots, earlier, later) : null;
      return {
        name,
        lots,
        change: change && {
          earlierMinorPerKg: change.earlierMinorPerKg,
          laterMinorPerKg: change.laterMinorPerKg,
          differenceMinor: change.differenceMinor,
          lines: change.lines,
        },
      };
    },
  );

  app.post(
    '/cost-lines/:id/correction',
    {
      config: { may: 'own' },
      schema: {
        operationId: 'correctCostLine',
        tags,
        summary: 'Correct a cost line of a closed lot: a line takes it back, another says what is right',
        params: idParams,
        body: CorrectionBody,
        response: { 201: WrittenLinesResource },
      },
    },
    async (request, reply) => {
      const { reason, replacement } = request.body;
      const written = correctCostLine(deps, { costLineId: request.params.id, reason, replacement }, actorOf(request));
      reply.code(201);
      return writtenLines(db, written);
    },
  );

  app.post(
    '/lots/:id/rework-of',
    {
      config: { may: 'work' },
      schema: {
        operationId: 'markRework',
        tags,
        summary: 'Note that a lot dyed pieces of another one again (its number; empty takes the note back)',
        params: idParams,
        body: z.object({ ofNumber: z.string().max(40) }).meta({ id: 'NewRework' }),
      },
    },
    async (request, reply) => {
      noteRework(deps, { lotId: request.params.id, ofNumber: request.body.ofNumber }, actorOf(request));
      return reply.code(204).send();
    },
  );
}
