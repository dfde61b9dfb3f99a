import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { seeOther } from '../http/page.ts';
import { idParams } from '../typedFields.ts';
import { orderOfLine } from './queries.ts';
import { withdrawReading } from './readings.ts';

export function readingPages(app: App, deps: Deps): void {
  const { db } = deps;
  app.post(
    '/readings/:id/withdrawal',
    { config: { may: 'work' }, schema: { params: idParams } },
    async (request, reply) => {
      const { swatchId, lotId, orderLineId } = withdrawReading(db, request.params.id, deps.now());
      if (swatchId !== null) return seeOther(reply, `/swatches/${swatchId}#readings`);
      if (lotId !== null) return seeOther(reply, `/lots/${lotId}`);
      return seeOther(reply, `/orders/${orderOfLine(db, orderLineId ?? 0) ?? ''}`);
    },
  );
}
