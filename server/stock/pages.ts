import { z } from 'zod';
import { emptyForm, type FormState } from '../../views/kit/field.ts';
import { questionList } from '../../views/questions/questions.ts';
import {
  closingForm,
  containerForm,
  liftingForm,
  moneyForm,
  recallForm,
  receiptForm,
  reopeningForm,
  type SolutionAnswer,
  solutionAnswer,
  solutionForm,
  stockTakeForm,
  wasteForm,
} from '../../views/stock/forms.ts';
import { stockPage } from '../../views/stock/list.ts';
import { containerPage, touchedPage } from '../../views/stock/show.ts';
import { CalcError } from '../calc/calcError.ts';
import { massMgOf, pctTyped } from '../calc/quantity.ts';
import type { Deps } from '../deps.ts';
import { notFound, Refusal } from '../errors.ts';
import type { App } from '../http/app.ts';
import { type CsvColumn, sendCsv } from '../http/csv.ts';
import { submitForm, typedBody } from '../http/forms.ts';
import { type Rendering, sendPage } from '../http/page.ts';
import { actorOf, allows } from '../people/guards.ts';
import { questionsProps } from '../questions/shown.ts';
import { instantsOfDay } from '../settings/days.ts';
import { defaultScale, theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { today } from '../settings/today.ts';
import { idParams, optionalDay } from '../typedFields.ts';
import {
  bestBeforeOfSolution,
  changeContainer,
  closeContainer,
  liftRecall,
  makeStockSolution,
  occurrence,
  proposedCode,
  proposedSolutionCode,
  recallContainer,
  receiveContainer,
  reopenContainer,
} from './containers.ts';
import { stockTake, waste } from './ledger.ts';
import { addStockMoney } from './money.ts';
import {
  closedStockLots,
  closingEntryOf,
  ledgerOf,
  onHandAt,
  openStockLots,
  receiptOf,
  receivableItems,
  type ShelfItem,
  type StockLotOverview,
  type StockLotsOf,
  safetyOf,
  shelfItem,
  solutionLifeDaysOf,
  solutionsOf,
  stockLotEventsOf,
  stockLotOverview,
  stockMoneyOf,
  strengthChangesOf,
} from './queries.ts';
import { type TouchedLine, touchedBy, touchedPages } from './recall.ts';
import {
  ClosingForm,
  ContainerForm,
  containerChangesOf,
  itemKey,
  LiftingForm,
  RecallForm,
  ReceiptForm,
  ReopeningForm,
  receiptInputOf,
  SolutionForm,
  SolutionQuestion,
  StockFilter,
  type StockItem,
  StockMoneyForm,
  StockTakeForm,
  WasteForm,
} from './schemas.ts';
import { makeUpVolumeUl, powderMassMg } from './solutions.ts';
import { withShelfWorth } from './worth.ts';

const CLOSED_SHOWN = 50;
const ENTRIES_SHOWN = 50;

const TOUCHED_COLUMNS: readonly CsvColumn<TouchedLine>[] = [
  { name: 'thing', value: (line) => line.thing },
  { name: 'number', value: (line) => line.number },
  { name: 'name', value: (line) => line.name },
  { name: 'status', value: (line) => line.status },
  { name: 'lot', value: (line) => line.lotNumber },
  { name: 'container', value: (line) => line.container },
  { name: 'quantity', value: (line) => line.quantity },
  { name: 'unit', value: (line) => line.unit },
  { name: 'customer', value: (line) => line.customer },
  { name: 'contact', value: (line) => line.contact },
];

const GROUPS = { dye: 'Dyes', auxiliary: 'Auxiliaries', fibre: 'Goods' } as const;

const found = (row: StockLotOverview | undefined): StockLotOverview => {
  if (!row) throw notFound('container');
  return row;
};

const pct = (ppm: number): string => pctTyped({ ppm });

const ofItem = (item: StockItem | undefined): StockLotsOf => {
  if (!item) return {};
  if (item.kind === 'dye') return { dyeId: item.id };
  return item.kind === 'auxiliary' ? { auxiliaryId: item.id } : { fibreId: item.id };
};

export function pages(app: App, deps: Deps): void {
  const { db } = deps;
  const container = (id: number): StockLotOverview => found(stockLotOverview(db, id));
  const openContainer = (id: number): StockLotOverview => {
    const row = container(id);
    if (row.closedAt !== null) throw new Refusal('conflict', `Container ${row.code} is closed.`);
    return row;
  };
  /** A fresh form: its hidden id makes a second press of the button the same request. */
  const fresh = (typed: Record<string, string> = {}): FormState => ({
    typed: { clientId: deps.newId(), ...typed },
    errors: {},
  });

  app.get('/stock', { config: { may: 'look' }, schema: { querystring: StockFilter } }, async (request, reply) => {
    const { kind, item, closed, before } = request.query;
    const named = item && shelfItem(db, item.kind, item.id);
    const of = { kind, ...ofItem(item) };
    const rows = closed === 'yes' ? closedStockLots(db, of, before ?? null, CLOSED_SHOWN) : openStockLots(db, of);
    const more = closed === 'yes' && rows.length === CLOSED_SHOWN;
    const query = new URLSearchParams({
      closed: 'yes',
      ...(kind ? { kind } : {}),
      ...(item ? { item: `${item.kind}-${item.id}` } : {}),
      before: String(rows.at(-1)?.id ?? ''),
    });
    return sendPage(request, reply, {
      title: 'Stock',
      section: 'stock',
      body: stockPage({
        containers: closed === 'yes' ? rows : withShelfWorth(db, rows, deps.now()),
        kind: kind ?? null,
        item: item && named ? { key: `${item.kind}-${item.id}`, name: named.name } : null,
        closed: closed === 'yes',
        nextHref: more ? `/stock?${query}` : null,
        mayWork: allows(request.actor, 'work'),
        show: showOf(db),
        todayOn: today(deps),
      }),
    });
  });

  const receiptPage = (form: FormState): Rendering => {
    const item = itemTyped(form.typed['item']);
    return {
      title: 'Receive a container',
      section: 'stock',
      body: receiptForm({
        form,
        items: receivableItems(db).map(({ kind, id, label }) => ({
          value: `${kind}-${id}`,
          label,
          group: GROUPS[kind],
        })),
        currency: theStudio(db).currency,
        proposedCode: item ? proposedCode(db, item.code) : null,
      }),
    };
  };
  const itemTyped = (key: string | undefined): ShelfItem | undefined => {
    const read = itemKey.safeParse(key);
    return read.success ? shelfItem(db, read.data.kind, read.data.id) : undefined;
  };

  app.get('/stock/new', { config: { may: 'work' } }, async (request, reply) => {
    const { item = '' } = typedBody(request.query);
    return sendPage(request, reply, receiptPage(fresh({ item, strength: '100', receivedOn: today(deps) })));
  });

  app.post('/stock', { config: { may: 'work' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: ReceiptForm({
        currency: theStudio(db).currency,
        unit: itemTyped(typedBody(request.body)['item'])?.unit ?? 'mg',
      }),
      save: (input) => `/stock/${receiveContainer(deps, receiptInputOf(input), actorOf(request)).id}`,
      again: receiptPage,
    }),
  );

  app.get(
    '/stock/:id',
    {
      config: { may: 'look' },
      schema: {
        params: idParams,
        querystring: z.object({ on: z.string().optional(), before: z.coerce.number().int().positive().optional() }),
      },
    },
    async (request, reply) => {
      const row = container(request.params.id);
      const { on, before } = request.query;
      const entries = ledgerOf(db, row.id, before ?? null, ENTRIES_SHOWN);
      return sendPage(request, reply, {
        title: row.code,
        section: 'stock',
        body: containerPage({
          strengthChanges: strengthChangesOf(db, request.params.id),
          container: withShelfWorth(db, [row], deps.now())[0] ?? row,
          lateMoney: stockMoneyOf(db, row.id),
          safety: safetyOf(db, row) ?? null,
          entries,
          nextHref: entries.length === ENTRIES_SHOWN ? `/stock/${row.id}?before=${entries.at(-1)?.id}` : null,
          firstHref: before === undefined ? null : `/stock/${row.id}`,
          solutions: withShelfWorth(db, solutionsOf(db, row.id), deps.now()),
          events: stockLotEventsOf(db, row.id),
          questions: questionList(questionsProps(db, { stockLotId: row.id }, actorOf(request), `/stock/${row.id}`)),
          receivedAt: receiptOf(db, row.id)?.at ?? 0,
          past: pastOf(row, on),
          mayLog: allows(request.actor, 'log'),
          mayWork: allows(request.actor, 'work'),
          mayOwn: allows(request.actor, 'own'),
          show: showOf(db),
          todayOn: today(deps),
        }),
      });
    },
  );

  /** On hand at the end of a day that was typed into the address. */
  const pastOf = (row: StockLotOverview, on: string | undefined): { form: FormState; quantity: number | null } => {
    if (on === undefined) return { form: emptyForm, quantity: null };
    const read = optionalDay().safeParse(on);
    const form = { typed: { on }, errors: read.success ? {} : { on: 'That is not a day: try 2026-03-31.' } };
    if (!read.success || read.data === null) return { form, quantity: null };
    return { form, quantity: onHandAt(db, row.id, instantsOfDay(read.data, theStudio(db).zone).endAt - 1) };
  };

  const editPage = (row: StockLotOverview, form: FormState): Rendering => ({
    title: `Edit ${row.code}`,
    section: 'stock',
    body: containerForm({ form, container: row, isSolution: row.concPpm !== null }),
  });

  app.get('/stock/:id/edit', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const row = container(request.params.id);
    const typed = {
      supplier: row.supplier,
      makerLot: row.makerLot,
      strength: pct(row.strengthPpm),
      openedOn: row.openedOn ?? '',
      bestBeforeOn: row.bestBeforeOn ?? '',
      note: row.note,
      version: String(row.version),
    };
    return sendPage(request, reply, editPage(row, { typed, errors: {} }));
  });

  app.post('/stock/:id', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const row = container(request.params.id);
    return submitForm(request, reply, {
      schema: ContainerForm,
      save: (input) => {
        changeContainer(deps, row, containerChangesOf(input), input.version, actorOf(request));
        return `/stock/${row.id}`;
      },
      again: (form) => editPage(row, form),
    });
  });

  // ── what is done with a container: each a page of its own, so that one thing is asked at a time ──
  const deed = (row: StockLotOverview, body: Rendering['body'], title: string): Rendering => ({
    title: `${title} ${row.code}`,
    section: 'stock',
    body,
  });
  const takePage = (row: StockLotOverview, form: FormState): Rendering =>
    deed(row, stockTakeForm({ container: row, form, show: showOf(db) }), 'Count');
  const wastePage = (row: StockLotOverview, form: FormState): Rendering =>
    deed(row, wasteForm({ container: row, form, show: showOf(db) }), 'Write off from');
  const closingPage = (row: StockLotOverview, form: FormState): Rendering =>
    deed(row, closingForm({ container: row, form, show: showOf(db) }), 'Close');
  const recallPage = (row: StockLotOverview, form: FormState): Rendering =>
    deed(row, recallForm({ container: row, form, show: showOf(db) }), 'Recall');

  app.get(
    '/stock/:id/stock-takes/new',
    { config: { may: 'log' }, schema: { params: idParams } },
    async (request, reply) =>
      sendPage(request, reply, takePage(openContainer(request.params.id), fresh({ reason: 'counted' }))),
  );
  app.post(
    '/stock/:id/stock-takes',
    { config: { may: 'log' }, schema: { params: idParams } },
    async (request, reply) => {
      const row = container(request.params.id);
      return submitForm(request, reply, {
        schema: StockTakeForm(row.unit),
        save: ({ counted, reason, clientId }) => {
          const input = { stockLotId: row.id, countedQuantity: counted, reason };
          stockTake(db, input, actorOf(request), occurrence(deps, { clientId }, row.id));
          return `/stock/${row.id}`;
        },
        again: (form) => takePage(row, form),
      });
    },
  );

  app.get('/stock/:id/wastes/new', { config: { may: 'log' }, schema: { params: idParams } }, async (request, reply) =>
    sendPage(request, reply, wastePage(openContainer(request.params.id), fresh())),
  );
  app.post('/stock/:id/wastes', { config: { may: 'log' }, schema: { params: idParams } }, async (request, reply) => {
    const row = container(request.params.id);
    return submitForm(request, reply, {
      schema: WasteForm(row.unit),
      save: ({ quantity, reason, clientId }) => {
        waste(db, { stockLotId: row.id, quantity, reason }, actorOf(request), occurrence(deps, { clientId }, row.id));
        return `/stock/${row.id}`;
      },
      again: (form) => wastePage(row, form),
    });
  });

  const moneyPage = (row: StockLotOverview, form: FormState): Rendering =>
    deed(row, moneyForm({ container: row, form, show: showOf(db) }), 'Late money on');
  app.get('/stock/:id/money/new', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) =>
    sendPage(request, reply, moneyPage(container(request.params.id), fresh({ kind: 'freight', on: today(deps) }))),
  );
  app.post('/stock/:id/money', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const row = container(request.params.id);
    return submitForm(request, reply, {
      schema: StockMoneyForm(theStudio(db).currency),
      save: ({ kind, amount, on, reason, clientId = null }) => {
        addStockMoney(deps, { stockLotId: row.id, kind, amountMinor: amount, on, reason, clientId }, actorOf(request));
        return `/stock/${row.id}#money`;
      },
      again: (form) => moneyPage(row, form),
    });
  });

  app.get('/stock/:id/closing/new', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) =>
    sendPage(request, reply, closingPage(openContainer(request.params.id), fresh({ how: 'empty' }))),
  );
  app.post('/stock/:id/closing', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const row = container(request.params.id);
    return submitForm(request, reply, {
      schema: ClosingForm,
      save: ({ how, reason, clientId }) => {
        closeContainer(deps, { stockLotId: row.id, how, reason, clientId: clientId ?? null }, actorOf(request));
        return `/stock/${row.id}`;
      },
      again: (form) => closingPage(row, form),
    });
  });

  app.get('/stock/:id/recall/new', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) =>
    sendPage(request, reply, recallPage(container(request.params.id), fresh())),
  );
  app.post('/stock/:id/recall', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const row = container(request.params.id);
    return submitForm(request, reply, {
      schema: RecallForm,
      save: ({ reason }) => {
        recallContainer(deps, { stockLotId: row.id, reason }, actorOf(request));
        return `/stock/${row.id}/touched`;
      },
      again: (form) => recallPage(row, form),
    });
  });

  // ── and taken back ──
  const closedContainer = (id: number): StockLotOverview & { closedAt: number } => {
    const row = container(id);
    if (row.closedAt === null) throw new Refusal('conflict', `Container ${row.code} is open.`);
    return { ...row, closedAt: row.closedAt };
  };
  const reopeningPage = (row: StockLotOverview, form: FormState): Rendering =>
    deed(row, reopeningForm({ container: row, form, show: showOf(db) }), 'Open again');
  const liftingPage = (row: StockLotOverview, form: FormState): Rendering =>
    deed(row, liftingForm({ container: row, form, show: showOf(db) }), 'Lift the recall of');

  app.get(
    '/stock/:id/reopening/new',
    { config: { may: 'work' }, schema: { params: idParams } },
    async (request, reply) => {
      const row = closedContainer(request.params.id);
      const gone = -(closingEntryOf(db, row.id, row.closedAt)?.quantity ?? 0);
      const counted = gone > 0 ? `${gone / 1000} ${row.unit === 'mg' ? 'g' : 'mL'}` : '';
      return sendPage(request, reply, reopeningPage(row, fresh({ counted })));
    },
  );
  app.post(
    '/stock/:id/reopening',
    { config: { may: 'work' }, schema: { params: idParams } },
    async (request, reply) => {
      const row = container(request.params.id);
      return submitForm(request, reply, {
        schema: ReopeningForm(row.unit),
        save: ({ counted, reason, clientId = null }) => {
          const input = { stockLotId: row.id, countedQuantity: counted, reason, clientId };
          reopenContainer(deps, input, actorOf(request));
          return `/stock/${row.id}`;
        },
        again: (form) => reopeningPage(row, form),
      });
    },
  );

  app.get(
    '/stock/:id/recall-lifting/new',
    { config: { may: 'own' }, schema: { params: idParams } },
    async (request, reply) => {
      const row = container(request.params.id);
      if (row.recalledAt === null) throw new Refusal('conflict', `Container ${row.code} is not recalled.`);
      return sendPage(request, reply, liftingPage(row, fresh()));
    },
  );
  app.post(
    '/stock/:id/recall-lifting',
    { config: { may: 'own' }, schema: { params: idParams } },
    async (request, reply) => {
      const row = container(request.params.id);
      return submitForm(request, reply, {
        schema: LiftingForm,
        save: ({ reason }) => {
          liftRecall(deps, { stockLotId: row.id, reason }, actorOf(request));
          return `/stock/${row.id}`;
        },
        again: (form) => liftingPage(row, form),
      });
    },
  );

  app.get('/stock/:id/touched', { config: { may: 'look' }, schema: { params: idParams } }, async (request, reply) => {
    const row = container(request.params.id);
    return sendPage(request, reply, {
      title: `What ${row.code} went into`,
      section: 'stock',
      body: touchedPage({ container: row, ...touchedBy(db, row.id), show: showOf(db) }),
    });
  });
  app.get(
    '/stock/:id/touched.csv',
    { config: { may: 'look' }, schema: { params: idParams } },
    async (request, reply) => {
      const row = container(request.params.id);
      return sendCsv(reply, `touched-by-${row.code}.csv`, TOUCHED_COLUMNS, touchedPages(touchedBy(db, row.id)));
    },
  );

  // ── stock solutions ──
  const powder = (id: number): StockLotOverview & { unit: 'mg' } => {
    const row = openContainer(id);
    if (row.unit !== 'mg' || row.concPpm !== null || row.kind === 'fibre')
      throw new Refusal('conflict', 'A stock solution is made from a container of powder.');
    if (row.recalledAt !== null)
      throw new Refusal('conflict', `Container ${row.code} is recalled: make no solution from it.`);
    return { ...row, unit: 'mg' };
  };

  /** The answer to a form that is still being filled in; null until volume and strength can be read. */
  const answerTo = (row: StockLotOverview, typed: FormState['typed']): SolutionAnswer | null => {
    const asked = SolutionQuestion.safeParse(typed);
    if (!asked.success) return null;
    const { volume: volumeUl, conc: concPpm, mass } = asked.data;
    const massMg = massTyped(mass);
    return {
      concPpm,
      volumeUl,
      powderMg: powderMassMg({ volumeUl, concPpm }),
      weighed: massMg === null ? null : { massMg, makeUpUl: makeUpVolumeUl({ massMg, concPpm }) },
      onHandMg: row.onHandQuantity,
      readabilityMg: defaultScale(db)?.readabilityMg ?? 10,
    };
  };

  const solutionPage = (row: StockLotOverview & { unit: 'mg' }, form: FormState): Rendering => {
    const answer = answerTo(row, form.typed);
    return {
      ...deed(
        row,
        solutionForm({
          container: row,
          form,
          answer,
          safety: safetyOf(db, row) ?? { hazardCodes: '', sdsUrl: '' },
          proposedCode: proposedSolutionCode(db, row.code),
          lifeDays: solutionLifeDaysOf(db, row.dyeId),
          proposedBestBeforeOn: bestBeforeOfSolution(db, row.dyeId, today(deps)),
          show: showOf(db),
        }),
        'Make a solution of',
      ),
      part: solutionAnswer(answer),
    };
  };

  app.get(
    '/stock/:id/solutions/new',
    { config: { may: 'log' }, schema: { params: idParams } },
    async (request, reply) => {
      const row = powder(request.params.id);
      const typed = {
        conc: pct(theStudio(db).stockConcPpm),
        madeOn: today(deps),
        bestBeforeOn: bestBeforeOfSolution(db, row.dyeId, today(deps)) ?? '',
        ...typedBody(request.query),
      };
      return sendPage(request, reply, solutionPage(row, fresh(typed)));
    },
  );

  app.post('/stock/:id/solutions', { config: { may: 'log' }, schema: { params: idParams } }, async (request, reply) => {
    const row = powder(request.params.id);
    return submitForm(request, reply, {
      schema: SolutionForm,
      save: ({ volume, conc, mass, madeUpTo, clientId, ...input }) => {
        const made = makeStockSolution(
          deps,
          row.id,
          {
            ...input,
            concPpm: conc,
            massMg: mass,
            madeUpUl: madeUpTo,
            wantedUl: volume,
            clientId: clientId ?? null,
          },
          actorOf(request),
        );
        return `/stock/${made.id}`;
      },
      again: (form) => ({ ...solutionPage(row, form), part: undefined }),
    });
  });
}

/** A mass that may be half typed: null until it can be read. */
function massTyped(text: string | undefined): number | null {
  if (!text?.trim()) return null;
  try {
    return massMgOf({ text, defaultUnit: 'g', field: 'mass' }) || null;
  } catch (error) {
    if (error instanceof CalcError) return null;
    throw error;
  }
}
