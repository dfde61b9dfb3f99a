import { mapPage } from '../../../views/near/map.ts';
import { HUE_FAMILIES } from '../../calc/colour/colourName.ts';
import { fibreOptions } from '../../fibres/options.ts';
import { readInput, typedBody } from '../../http/forms.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { methodOptions } from '../../methods/options.ts';
import { LIGHTNESS_BANDS, libraryMap } from '../libraryMap.ts';
import { mapRows } from '../queries.ts';
import { GoodsQuery } from '../schemas.ts';

/** More marks than this make the map a smear and the page heavy: it draws an even selection of them. */
const MOST_MARKS = 250;

export const showMap = page({
  show: ({ db }, { request, reply }) => {
    const { fibreId, methodId } = readInput(GoodsQuery, typedBody(request.query));
    const { rows, ofHowMany } = mapRows(db, { fibreId: fibreId ?? null, methodId: methodId ?? null }, MOST_MARKS);
    return sendPage(request, reply, {
      title: 'Library map',
      section: 'swatches',
      body: mapPage({
        ...libraryMap(rows),
        families: HUE_FAMILIES,
        bands: LIGHTNESS_BANDS,
        form: { typed: { fibreId: String(fibreId ?? ''), methodId: String(methodId ?? '') }, errors: {} },
        fibres: fibreOptions(db),
        methods: methodOptions(db),
        drawnOf: ofHowMany > rows.length ? ofHowMany : null,
        goodsQuery: [fibreId && `&fibreId=${fibreId}`, methodId && `&methodId=${methodId}`].filter(Boolean).join(''),
      }),
    });
  },
});
