import createClient from 'openapi-fetch';
import type { paths } from './api.d.ts';
import type { Walked } from './walked.ts';

/* What a stranger writes: a client made from the API document alone. The test beside it makes api.d.ts, compiles this file with
 * --strict and runs it. It has no cast, and must not need one. */

/** What came, or the refusal in the service's own words. */
function had<Data>(answer: {
  data?: Data;
  error?: { code: string; detail: string; fields: Record<string, string> };
}): Data {
  if (answer.data !== undefined) return answer.data;
  const { code, detail, fields } = answer.error ?? { code: 'none', detail: 'no answer', fields: {} };
  throw new Error(`${code}: ${detail} ${JSON.stringify(fields)}`);
}

function first<Item>(items: readonly Item[], what: string): Item {
  const [item] = items;
  if (item === undefined) throw new Error(`no ${what}`);
  return item;
}

/** The README's way: a swatch, an order, a lot a shade deeper on damp goods, weighed with one dye over, finished, kept as a swatch,
 *  exported. */
export async function walkWholePath(baseUrl: string, token: string, todayOn: string): Promise<Walked> {
  const client = createClient<paths>({ baseUrl, headers: { authorization: `Bearer ${token}` } });
  let count = 0;
  const clientId = (): string => `client-${++count}-${crypto.randomUUID()}`;

  const { swatches } = had(await client.GET('/api/v1/swatches', { params: { query: { words: 'rusted' } } }));
  const swatch = first(
    swatches.filter((s) => s.fibreName.startsWith('Linen')),
    'rusted linen',
  );
  const { customerId } = had(await client.POST('/api/v1/customers', { body: { name: 'Guild of the Long Table' } }));
  const order = had(
    await client.POST('/api/v1/orders', {
      body: {
        customerId,
        orderedOn: todayOn,
        lines: [
          {
            description: '24 napkins, a shade deeper',
            pieces: 24,
            dryMassMg: 1_200_000,
            wantedSwatchId: swatch.swatchId,
          },
        ],
      },
    }),
  );
  const { orderLineId } = first(order.lines, 'order line');

  const planned = had(
    await client.POST('/api/v1/lots', {
      body: {
        fibreId: swatch.fibreId,
        methodId: swatch.methodId,
        goodsText: '24 napkins',
        pieces: 24,
        mass: {
          found: 'weighedDamp',
          dampMassMg: 1_620_000,
          moisture: { kind: 'sample', dampSampleMg: 54_000, drySampleMg: 40_000, driedTo: 'airDry' },
        },
        colours: [{ revisionId: swatch.revisionId, swatchId: swatch.swatchId, depthPpm: swatch.depthPpm + 2000 }],
        orderLines: [{ orderLineId, pieces: 24 }],
      },
    }),
  );
  const id = planned.lotId;
  const lot = { params: { path: { id } } };

  const [over, ...others] = planned.lines;
  if (!over || over.stockLotId === null) throw new Error('no line to weigh');
  const weigh = async (
    line: { componentId: number; stockLotId: number | null; unit: 'mg' | 'ul' },
    amount: number,
  ): Promise<void> => {
    if (line.stockLotId === null) return;
    const body = {
      componentId: line.componentId,
      stockLotId: line.stockLotId,
      ...(line.unit === 'mg' ? { massMg: amount } : { volumeUl: amount }),
      confirmed: true,
      clientId: clientId(),
    };
    had(await client.POST('/api/v1/lots/{id}/weighings', { ...lot, body }));
  };
  await weigh(over, Math.round(over.planned * 1.04));
  const { waysOut } = had(
    await client.GET('/api/v1/lots/{id}/ways-out/{componentId}', {
      params: { path: { id, componentId: over.componentId } },
    }),
  );
  const deeper = first(
    waysOut.filter(({ way }) => way === 'deeper'),
    'way out',
  );
  had(
    await client.POST('/api/v1/lots/{id}/adjustments', {
      ...lot,
      body: {
        componentId: over.componentId,
        way: 'deeper',
        vessel: deeper.vessel,
        confirmed: deeper.confirmed,
        clientId: clientId(),
      },
    }),
  );
  const standing = had(await client.GET('/api/v1/lots/{id}', lot));
  for (const { componentId } of others) {
    const line = standing.lines.find((l) => l.componentId === componentId);
    if (line) await weigh(line, line.target);
  }
  for (const { stepId } of standing.steps)
    for (const kind of ['stepStart', 'stepEnd'] as const)
      had(await client.POST('/api/v1/lots/{id}/steps', { ...lot, body: { stepId, kind, clientId: clientId() } }));
  const note = { kind: 'deviation', text: 'folded in four instead of loose', clientId: clientId() } as const;
  had(await client.POST('/api/v1/lots/{id}/log', { ...lot, body: note }));
  const finished = had(
    await client.POST('/api/v1/lots/{id}/outcome', {
      ...lot,
      body: {
        firstQuality: 22,
        seconds: 2,
        unweighedConfirmed: true,
        labour: [{ personId: planned.plannedBy, durationS: 5400 }],
        clientId: clientId(),
      },
    }),
  );
  had(
    await client.POST('/api/v1/lots/{id}/readings', {
      ...lot,
      body: { readings: [{ l: 45.2, a: 30.1, b: 35.4, illuminant: 'D65', observer: '10', source: 'instrument' }] },
    }),
  );
  const kept = had(
    await client.POST('/api/v1/swatches', {
      body: {
        name: 'Rusted stake, deeper',
        revisionId: swatch.revisionId,
        depthPpm: swatch.depthPpm + 2000,
        fibreId: swatch.fibreId,
        methodId: swatch.methodId,
        lotId: id,
        dyedOn: todayOn,
      },
    }),
  );
  const exported = had(
    await client.GET('/api/v1/exports/lots.csv', {
      params: { query: { from: `${todayOn.slice(0, 7)}-01`, to: todayOn, rows: 'costLine' } },
      parseAs: 'text',
    }),
  );

  const { near } = had(await client.GET('/api/v1/swatches/near', { params: { query: { colour: '46 27 30' } } }));
  const { fibreId, methodId } = swatch;
  const predicted = had(
    await client.POST('/api/v1/predict', {
      body: {
        fibreId,
        methodId,
        components: [
          { dyeCode: 'F15', depthPpm: 13_000 },
          { dyeCode: 'F31', depthPpm: 7_000 },
        ],
      },
    }),
  );
  const proposed = had(
    await client.POST('/api/v1/proposals', {
      body: { fibreId, methodId, target: { l: 46, a: 27, b: 30, illuminant: 'D65', observer: '10' } },
    }),
  );
  const again = await client.POST('/api/v1/lots/{id}/weighings', {
    ...lot,
    body: { componentId: 0, stockLotId: over.stockLotId, massMg: 1, clientId: clientId() },
  });
  if (!again.error) throw new Error('a weighing of no line was taken');
  const prediction = Array.isArray(predicted) ? first(predicted, 'prediction') : predicted;
  if (!prediction.known || !proposed.known) throw new Error('the sample studio knows too little of its own dyes');
  return {
    lotNumber: finished.number,
    status: finished.status,
    costMinor: finished.costMinor ?? 0,
    swatchCode: kept.code,
    exported,
    nearest: first(near, 'near swatch').code,
    predictedL: prediction.lab.l,
    proposals: proposed.proposals.length,
    refusal: {
      code: again.error.code,
      type: again.error.type,
      field: Object.keys(again.error.fields).join(),
    },
  };
}
