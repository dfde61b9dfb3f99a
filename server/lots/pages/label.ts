import { lotLabel } from '../../../views/lots/label.ts';
import { namesOfLot } from '../../closings/names.ts';
import { closingOf } from '../../closings/queries.ts';
import { found } from '../../errors.ts';
import { sendPage } from '../../http/page.ts';
import { addressWithCode } from '../../http/qrCode.ts';
import { page } from '../../http/routes.ts';
import { planOf } from '../../plans/planOf.ts';
import { theStudio } from '../../settings/queries.ts';
import { idParams } from '../../typedFields.ts';
import { coloursAsDyed } from '../dyedColours.ts';
import { linesServed, lotById } from '../queries.ts';

/** The label that goes with the goods. */
export const showLabel = page({
  params: idParams,
  show({ db }, { params, request, reply }) {
    const lot = found(lotById(db, params.id), 'lot');
    return sendPage(request, reply, {
      title: `Label ${lot.number}`,
      section: 'lots',
      shape: 'paper',
      body: lotLabel({
        lotId: lot.id,
        number: lot.number,
        studioName: theStudio(db).name,
        goodsText: lot.goodsText,
        fibreName: namesOfLot(db, lot.id).called('fibre', lot.fibreId)?.name ?? planOf(lot).fibreName,
        colours: coloursAsDyed(db, lot.id),
        customers: linesServed(db, lot.id).map((l) => `${l.customerName}, ${l.orderNumber}`),
        dyedOn: closingOf(db, lot.id)?.closedOn ?? null,
        qrSvg: addressWithCode(request, `/lots/${lot.id}`).qrSvg,
      }),
    });
  },
});
