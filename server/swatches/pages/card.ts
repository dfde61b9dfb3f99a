import { swatchCard } from '../../../views/swatches/card.ts';
import { sendPage } from '../../http/page.ts';
import { addressWithCode } from '../../http/qrCode.ts';
import { page } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { swatchShown } from '../present.ts';
import { swatchSheet } from '../sheet.ts';

export const showCard = page({
  params: idParams,
  show: ({ db }, { params, request, reply }) => {
    const sheet = swatchSheet(db, params.id);
    return sendPage(request, reply, {
      title: `Card ${sheet.swatch.code}`,
      section: 'swatches',
      shape: 'paper',
      body: swatchCard({
        swatch: swatchShown(sheet),
        readings: sheet.readings.filter((r) => r.withdrawnAt === null),
        ...addressWithCode(request, `/swatches/${sheet.swatch.id}`),
      }),
    });
  },
});
