import { z } from 'zod';
import { operation } from '../../http/routes.ts';
import { idParams } from '../../typedFields.ts';
import { neighboursOf } from '../neighbours.ts';
import { SwatchListItem } from '../schemas.ts';
import { swatchSheet } from '../sheet.ts';

export const getNeighbours = operation({
  id: 'getSwatchNeighbours',
  summary: 'The same recipe elsewhere, and what is near in colour',
  params: idParams,
  answer: z.object({
    sameRecipe: z.array(SwatchListItem),
    near: z.array(z.object({ swatch: SwatchListItem, deltaE2000: z.number() })),
  }),
  run: ({ db }, { params }) => {
    const { swatch, tile } = swatchSheet(db, params.id);
    const { ladder, near } = neighboursOf(db, swatch, tile.lab);
    return { sameRecipe: ladder, near: near.map((n) => ({ swatch: n.tile, deltaE2000: n.deltaE2000 })) };
  },
});
