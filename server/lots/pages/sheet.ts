import { benchSheet } from '../../../views/lots/sheet.ts';
import { namesOfLot, planNamed } from '../../closings/names.ts';
import { found } from '../../errors.ts';
import { sendPage } from '../../http/page.ts';
import { addressWithCode } from '../../http/qrCode.ts';
import { page } from '../../http/routes.ts';
import { planOf } from '../../plans/planOf.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { coloursOf, linesServed, lotById } from '../queries.ts';

/** The bench sheet, on paper. */
export const showSheet = page({
  params: idParams,
  show({ db }, { params, request, reply }) {
    const lot = found(lotById(db, params.id), 'lot');
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
  },
});
