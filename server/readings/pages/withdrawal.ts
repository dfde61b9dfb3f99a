import { seeOther } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { orderOfLine } from '../queries.ts';
import { withdrawReading } from '../recordReadings.ts';

export const withdraw = page({
  params: idParams,
  show: ({ db, now }, { params, reply }) => {
    const { swatchId, lotId, orderLineId } = withdrawReading(db, params.id, now());
    if (swatchId !== null) return seeOther(reply, `/swatches/${swatchId}#readings`);
    if (lotId !== null) return seeOther(reply, `/lots/${lotId}`);
    return seeOther(reply, `/orders/${orderOfLine(db, orderLineId ?? 0) ?? ''}`);
  },
});
