import type { FastifyRequest } from 'fastify';
import type { FormState } from '../../../views/kit/field.ts';
import { lotPage } from '../../../views/lots/lot.ts';
import { placementPanel } from '../../../views/lots/placements.ts';
import { lotReadingForm } from '../../../views/lots/readings.ts';
import { questionList } from '../../../views/questions/questions.ts';
import { unitCostMinorPerGoodPiece } from '../../calc/cost.ts';
import { depthsDyed } from '../../closings/asDyed.ts';
import { namesOfLot, upgradeWords } from '../../closings/names.ts';
import { closingOf, strengthIsOfUpgrade } from '../../closings/queries.ts';
import type { Actor, Deps } from '../../deps.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { mixedLines } from '../../orders/mixing.ts';
import { actorOf, allows } from '../../people/guards.ts';
import { questionsProps } from '../../questions/shown.ts';
import { theStudio } from '../../settings/queries.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { benchOf } from '../benchState.ts';
import { cancelledWords } from '../ordersServed.ts';
import { lineShown } from '../present/line.ts';
import { logShown, temperaturesOf } from '../present/log.ts';
import { costLineTold } from '../present/lot.ts';
import { placementColours, placementViews } from '../present/placements.ts';
import { coloursOf, costLinesOf, linesServed, lotById, outcomeOf, swatchesOfLot } from '../queries.ts';
import { readingsJudged } from '../readingsJudged.ts';

const MASS_FOUND = {
  weighedDry: 'weighed dry',
  weighedDamp: 'weighed damp, counted as conditioned',
  fromArea: 'from its area',
  fromPutUps: 'from put-ups',
  stated: 'as stated',
} as const;

interface MayDo {
  work: boolean;
  log: boolean;
  by: Actor;
}
export const mayDo = (request: FastifyRequest): MayDo => ({
  by: actorOf(request),
  work: allows(request.actor, 'work'),
  log: allows(request.actor, 'log'),
});

export const showLot = page({
  params: idParams,
  show: (deps, { params, request, reply }) => sendPage(request, reply, lotRendering(deps, params.id, mayDo(request))),
});

/** One lot's page, with the form of its readings as it stands. Long because each of its props is read once. */
export function lotRendering(
  { db, now }: Deps,
  lotId: number,
  may: MayDo,
  form: FormState = { typed: {}, errors: {} },
): Rendering {
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
        return { ...lineShown(l, colours, []), nowCalled: called?.nowCalled ?? null };
      }),
      steps: bench.steps,
      log: logShown(db, bench),
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
      costLines: costs.map((c) => ({ ...costLineTold(c), valuation: c.valuation })),
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
      readings: readingsJudged(db, lotId, colours, served),
      swatches: swatchesOfLot(db, lotId),
      mayWork: may.work,
      show: s,
      readingForm: lot.finishedAt !== null && may.work ? lotReadingForm({ lotId, form }) : '',
    }),
  };
}
