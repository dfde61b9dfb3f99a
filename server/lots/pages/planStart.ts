import { z } from 'zod';
import * as show from '../../../views/kit/show.ts';
import { pctTyped } from '../../calc/quantity.ts';
import type { Db } from '../../db/open.ts';
import type { LotRow } from '../../db/tables/lots.ts';
import type { Deps } from '../../deps.ts';
import { found } from '../../errors.ts';
import { planOf } from '../../plans/planOf.ts';
import { swatchForPlan } from '../../plans/queries.ts';
import { revisionWithComponents } from '../../recipes/queries.ts';
import { showOf } from '../../settings/show.ts';
import { benchOf } from '../benchState.ts';
import { coloursAsDyed } from '../dyedColours.ts';
import { lotById, orderLineForPlan } from '../queries.ts';

/** What an address may say that does not read is left out: the form then stands empty there. */
const text = z.string().optional().catch(undefined);
const id = z
  .string()
  .regex(/^[1-9]\d{0,14}$/)
  .transform(Number)
  .optional()
  .catch(undefined);

/** Where a plan starts: an earlier lot (as it was planned, or `as=done`), an order line, a swatch or a recipe; and what is known of
 *  it besides. */
export const PlanStart = z.object({
  lotId: id,
  as: text,
  orderLineId: id,
  swatchId: id,
  revisionId: id,
  depth: text,
  mass: text,
  fibreId: text,
  methodId: text,
});

type Typed = Record<string, string>;

const EMPTY: Readonly<Typed> = {
  massFound: 'weighedDry',
  goodsOwner: 'studio',
  moistureKind: 'sample',
  driedTo: 'airDry',
  solutions: 'auto',
};

/** What the plan form starts with. */
export function planStart(deps: Deps, query: z.output<typeof PlanStart>): Typed {
  const { db } = deps;
  const typed: Typed = { ...EMPTY };
  if (query.lotId !== undefined)
    Object.assign(typed, fromLot(deps, found(lotById(db, query.lotId), 'lot'), query.as === 'done'));
  if (query.orderLineId !== undefined) Object.assign(typed, fromOrderLine(db, query.orderLineId));
  if (query.swatchId !== undefined) Object.assign(typed, fromSwatch(db, query.swatchId));
  if (query.revisionId !== undefined)
    Object.assign(typed, fromRevision(found(revisionWithComponents(db, query.revisionId), 'recipe').revision));
  const { depth, mass, fibreId, methodId } = query;
  for (const [field, value] of Object.entries({ 'depth.0': depth, mass, fibreId, methodId }))
    if (value !== undefined && value !== '') typed[field] = value.slice(0, 60);
  return typed;
}

function fromLot({ db, now }: Deps, lot: LotRow, asDone: boolean): Typed {
  const plan = planOf(lot);
  // Repeat it as it was done: the depth that was really weighed, on the goods that were really dyed.
  const done = asDone ? benchOf(db, lot.id, now()) : null;
  const dyed = asDone ? coloursAsDyed(db, lot.id) : [];
  const typed: Typed = {
    fibreId: String(lot.fibreId),
    methodId: String(lot.methodId),
    goodsText: lot.goodsText,
    goodsOwner: lot.goodsOwner,
    mass: show.mass(showOf(db), done?.dryMassMg ?? lot.dryMassMg),
    repeatsLotId: String(lot.id),
    coverage: plan.coverage,
    ...(lot.pieces === null ? {} : { pieces: String(lot.pieces) }),
  };
  plan.colours.forEach((c, i) => {
    Object.assign(typed, {
      [`revisionId.${i}`]: String(c.revisionId),
      [`swatchId.${i}`]: c.swatchId === null ? '' : String(c.swatchId),
      [`depth.${i}`]: pctTyped({ ppm: dyed[i]?.depthPpm ?? c.depthPpm }),
      [`share.${i}`]: pctTyped({ ppm: c.sharePpm }),
      [`placement.${i}`]: c.placement,
    });
  });
  return typed;
}

function fromOrderLine(db: Db, orderLineId: number): Typed {
  const { line } = found(orderLineForPlan(db, orderLineId), 'order line');
  const wanted = line.wantedRevisionId === null ? undefined : revisionWithComponents(db, line.wantedRevisionId);
  return {
    ...(line.wantedSwatchId !== null ? fromSwatch(db, line.wantedSwatchId) : wanted && fromRevision(wanted.revision)),
    orderLineId: String(orderLineId),
    goodsText: line.description,
    ...(line.fibreId === null ? {} : { fibreId: String(line.fibreId) }),
    ...(line.pieces === null ? {} : { pieces: String(line.pieces) }),
    ...(line.dryMassMg === null ? {} : { mass: show.mass(showOf(db), line.dryMassMg) }),
  };
}

function fromSwatch(db: Db, swatchId: number): Typed {
  const { swatch } = found(swatchForPlan(db, swatchId), 'swatch');
  return {
    'revisionId.0': String(swatch.revisionId),
    'swatchId.0': String(swatchId),
    'depth.0': pctTyped({ ppm: swatch.depthPpm }),
    fibreId: String(swatch.fibreId),
    methodId: String(swatch.methodId),
  };
}

const fromRevision = (revision: { id: number; totalDepthPpm: number }): Typed => ({
  'revisionId.0': String(revision.id),
  'depth.0': pctTyped({ ppm: revision.totalDepthPpm }),
});
