import { z } from 'zod';
import { confirmedWay } from '../../calc/overWeighing.ts';
import { operation } from '../../http/routes.ts';
import { benchOf } from '../../lots/benchState.ts';
import { occurrenceOf } from '../../lots/occurrence.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { recorded } from '../present.ts';
import { Recorded, stage, WayOutBody, WayOutResource } from '../schemas.ts';
import { takeWayOut } from '../takeWayOut.ts';
import { waysOut, weighUpOf } from '../waysOut.ts';

export const listAllWaysOut = operation({
  id: 'listWaysOut',
  summary: 'The ways out of an over-weighed line, each with every line recomputed',
  params: idParams.extend({ componentId: idParams.shape.id }),
  query: z.object({ stage: stage.default('dry') }),
  answer: z.object({ waysOut: z.array(WayOutResource) }),
  run({ db, now }, { params: { id, componentId }, query }) {
    const bench = benchOf(db, id, now());
    const weighUp = weighUpOf(bench);
    return {
      waysOut: waysOut(bench, componentId, query.stage).map((w) => ({
        way: w.kind,
        vessel: w.vessel,
        goodsFactor: w.goodsFactor,
        depthFactor: w.depthFactor,
        dryMassMg: Math.round(w.goodsDryMassMg),
        hue: w.hue,
        lines: w.lines.map((l) => ({
          componentId: Number(l.lineId),
          unit: l.unit,
          target: l.targetRounded,
          kept: l.kept,
          toAdd: l.toAdd,
          act: l.act,
        })),
        confirmed: confirmedWay({ weighUp, overLineId: String(componentId), way: w }),
      })),
    };
  },
});

export const takeOneWayOut = operation({
  id: 'takeWayOut',
  summary: 'Take one of the ways out',
  params: idParams,
  body: WayOutBody,
  answer: Recorded,
  status: 201,
  run: (deps, { params, body, request }) =>
    recorded(deps, takeWayOut(deps, { lotId: params.id, ...body, ...occurrenceOf(deps, body) }, actorOf(request))),
});
