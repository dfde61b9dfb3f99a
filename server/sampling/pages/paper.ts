import { samplingLabels, samplingSheet as samplingSheetPage } from '../../../views/sampling/paper.ts';
import { durationText, tempText } from '../../calc/quantity.ts';
import { sendPage } from '../../http/page.ts';
import { addressWithCode } from '../../http/qrCode.ts';
import { page } from '../../http/routes.ts';
import { methodWithParts } from '../../methods/queries.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { samplingSheet } from '../planSamples.ts';
import { pieceViews, stockViews } from '../present.ts';

export const showBenchPage = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const sheet = samplingSheet(db, params.id);
    const { plan, fibreName, methodName } = sheet;
    const method = methodWithParts(db, plan.methodId);
    const show = showOf(db);
    const tempScale = show.units === 'us' ? 'F' : 'C';
    return sendPage(request, reply, {
      title: `Bench page ${plan.name}`,
      section: 'swatches',
      shape: 'paper',
      body: samplingSheetPage({
        planId: plan.id,
        name: plan.name,
        fibreName,
        methodName,
        pieceMassMg: plan.pieceMassMg,
        liquorMlPerKg: plan.liquorMlPerKg,
        gridColumns: plan.gridColumns,
        stocks: stockViews(sheet),
        pieces: pieceViews(sheet),
        note: plan.note,
        show,
        qrSvg: addressWithCode(request, `/sampling/${plan.id}`).qrSvg,
        steps: (method?.steps ?? []).map(({ name, durationS, tempC }) => ({
          name,
          words: [durationText({ durationS }), tempC === null ? '' : tempText({ tempC, scale: tempScale })]
            .filter(Boolean)
            .join(', '),
        })),
        auxiliaries: (method?.auxiliaries ?? []).map(({ line, auxiliary }) =>
          `${auxiliary.name} ${line.asTyped}`.trim(),
        ),
      }),
    });
  },
});

export const showLabels = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const sheet = samplingSheet(db, params.id);
    const { plan, fibreName } = sheet;
    return sendPage(request, reply, {
      title: `Labels ${plan.name}`,
      section: 'swatches',
      shape: 'paper',
      body: samplingLabels({ planId: plan.id, name: plan.name, fibreName, pieces: pieceViews(sheet) }),
    });
  },
});
