import { lotCostPage } from '../../../views/costing/lotCost.ts';
import { emptyForm, type FormState } from '../../../views/kit/field.ts';
import { marginPct, markupPct } from '../../calc/cost.ts';
import type { Db } from '../../db/open.ts';
import { notFound } from '../../errors.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { lotById } from '../../lots/queries.ts';
import { actorOf, allows } from '../../people/guards.ts';
import { planOf } from '../../plans/planOf.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { standingLines } from '../corrections.ts';
import { type Costs, nothingSpent, perKg } from '../groups.ts';
import { costedLotById, costLineRowsOf, costLinesOf, ledgerOfLot, linesOfLots, reworkedBy } from '../queries.ts';
import { jobOf, noteRework } from '../rework.ts';
import { ReworkForm } from '../schemas.ts';

/** What the plan of a lot foresaw, by kind. */
function estimateByKind(planJson: string): Costs['byKind'] {
  const { byKind } = nothingSpent();
  for (const line of planOf({ planJson }).estimate ?? []) byKind[line.kind] += line.costMinor;
  return byKind;
}

const lotPage = (
  db: Db,
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
      lines: lines.map((l) => ({ ...l, stands: standing.has(l.costLineId) })),
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

export const showLotCost = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => sendPage(request, reply, lotPage(db, params.id, mayOf(request.actor))),
});

export const noteReworkOf = page({
  params: idParams,
  show: (deps, { params, request, reply }) => {
    const lotId = params.id;
    return submitForm(request, reply, {
      schema: ReworkForm,
      save: ({ ofNumber }) => {
        noteRework(deps, { lotId, ofNumber }, actorOf(request));
        return `/costing/lots/${lotId}#rework`;
      },
      again: (form) => lotPage(deps.db, lotId, mayOf(request.actor), form),
    });
  },
});
