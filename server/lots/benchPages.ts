import type { FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { FormState, Typed } from '../../views/kit/field.ts';
import * as show from '../../views/kit/show.ts';
import { bench as benchView, type WeighOrder } from '../../views/lots/benchPage.ts';
import { measureOf } from '../../views/lots/containerFigures.ts';
import { finishPage } from '../../views/lots/finishPage.ts';
import type { ConfirmedWay } from '../calc/overWeighing.ts';
import { hasUnit, readingAmount } from '../calc/plausibleReading.ts';
import { durationText, tempCOf } from '../calc/quantity.ts';
import type { StockLotRow } from '../db/tables/stock.ts';
import type { Actor, Deps } from '../deps.ts';
import { asRefusal, demandNone, invalid, notFound, Refusal } from '../errors.ts';
import type { App } from '../http/app.ts';
import { readInput, submitForm, typedBody, typedRows } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage, wantsPart } from '../http/page.ts';
import { readMultipart } from '../http/upload.ts';
import { actorOf } from '../people/guards.ts';
import { listPeople } from '../people/queries.ts';
import { withPhoto } from '../photos/store.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { stockLotById } from '../stock/queries.ts';
import {
  countField,
  idParams,
  optionalCount,
  optionalDurationS,
  optionalMoneyMinor,
  optionalText,
} from '../typedFields.ts';
import {
  answerAtBench,
  countsForOne,
  recordEntry,
  recordStep,
  recordStepChange,
  recordWeighing,
  type SentOccurrence,
  takeWayOut,
  voidEntry,
} from './bench.ts';
import type { BenchDoor } from './benchDoor.ts';
import { type Bench, benchOf } from './benchState.ts';
import { dids, recordDeviation } from './deviations.ts';
import { abandonLot, finishLot } from './finish.ts';
import { placementPages } from './placementPages.ts';
import { benchProps } from './present.ts';
import { componentOf, lotById } from './queries.ts';
import { ConfirmedWayShape } from './schemas.ts';
import { voicePages } from './voicePages.ts';

/** The bench and the finish of a lot: what wet hands do. */
export function benchPages(app: App, deps: Deps): void {
  const { db, now, newId } = deps;

  // ── the bench ──
  const benchRendering = (
    by: Actor,
    bench: Bench,
    chosenLine: number | null,
    order: WeighOrder,
    refused: { form: string; state: FormState } | null = null,
  ): Rendering => ({
    title: `Bench, lot ${bench.lot.number}`,
    section: 'lots',
    shape: 'bench',
    scripts: ['bench.js', 'voice.js'],
    body: benchView(benchProps(deps, bench, chosenLine, order, refused, by)),
  });

  app.get<{ Params: { id: number }; Querystring: { line?: string; order?: string } }>(
    '/lots/:id/bench',
    { config: { may: 'log' }, schema: { params: idParams } },
    async (request, reply) => {
      const bench = benchOf(db, request.params.id, now());
      if (bench.lot.finishedAt !== null) return seeOther(reply, `/lots/${bench.lot.id}`);
      const line = Number(request.query.line);
      return sendPage(
        request,
        reply,
        benchRendering(actorOf(request), bench, Number.isSafeInteger(line) ? line : null, orderOf(request.query.order)),
      );
    },
  );

  /** One bench action: done and shown anew, or refused with what was typed still there. */
  async function atBench(
    request: FastifyRequest,
    reply: FastifyReply,
    lotId: number,
    form: string,
    typed: Typed,
    act: () => unknown,
  ): Promise<FastifyReply> {
    const order = orderOf(typed['order']);
    const kept = typed['person'];
    if (kept !== undefined && kept !== String(actorOf(request).personId))
      throw new Refusal('notSignedIn', 'This was kept on the device by somebody else; it goes out when they sign in.');
    try {
      await act();
      if (!wantsPart(request))
        return seeOther(reply, `/lots/${lotId}/bench${order === 'plan' ? '' : `?order=${order}`}`);
      return sendPage(request, reply, benchRendering(actorOf(request), benchOf(db, lotId, now()), null, order));
    } catch (error) {
      const refusal = asRefusal(error);
      if (!refusal || refusal.code === 'notFound' || refusal.code === 'lotFinished') throw error;
      const errors = Object.keys(refusal.fields).length > 0 ? refusal.fields : { '': refusal.message };
      const line = Number(typed['componentId']);
      return sendPage(request, reply, {
        ...benchRendering(
          actorOf(request),
          benchOf(db, lotId, now()),
          Number.isSafeInteger(line) ? line : null,
          order,
          {
            form,
            state: { typed: { ...typed, ...confirmingOf(refusal, typed) }, errors },
          },
        ),
        status: refusal.status,
      });
    }
  }

  /** What the button says that confirms a reading which was asked about. */
  const confirmingOf = (refusal: Refusal, typed: Typed): Typed => {
    const stockLot = refusal.code === 'needsConfirming' ? stockLotById(db, Number(typed['stockLotId'])) : undefined;
    if (!stockLot) return {};
    const amount = readingAmount({ text: typed['amount'] ?? '', unit: stockLot.unit, container: stockLot.code });
    const confirmingWords = `${amount / 1000} ${stockLot.unit === 'mg' ? 'g' : 'mL'}`;
    return { confirming: `${stockLot.id}:${amount}`, confirmingWords };
  };

  const orderOf = (text: string | undefined): WeighOrder => (text === 'smallest' || text === 'dye' ? text : 'plan');

  /** When it happened, by the device that kept it while the network was away; now otherwise. */
  const atOf = (typed: Typed): number => {
    const at = Number(typed['at']);
    return typed['at'] && Number.isSafeInteger(at) && at > 0 ? at : now();
  };

  const clientIdOf = (typed: Typed): string =>
    /^[\w:.-]{8,64}$/.test(typed['clientId'] ?? '') ? (typed['clientId'] as string) : newId();
  /** What a form says of its id and time. */
  const saidOf = (typed: Typed): SentOccurrence & { derived: string[] } => ({
    clientId: clientIdOf(typed),
    at: atOf(typed),
    derived: typed['at'] ? [] : ['at'],
  });
  /** The same with the step that was under way then, which the form does not say. */
  const saidDuring = (lotId: number, typed: Typed): SentOccurrence & { stepId: number | null } => {
    const said = saidOf(typed);
    return { ...said, stepId: stepAt(lotId, said.at), derived: [...said.derived, 'stepId'] };
  };
  const idOf = (typed: Typed, name: string): number => {
    if (!/^[1-9]\d{0,14}$/.test(typed[name] ?? '')) throw invalid({ [name]: 'Choose one.' });
    return Number(typed[name]);
  };

  app.post('/lots/:id/weighings', { config: { may: 'log' }, schema: { params: idParams } }, async (request, reply) => {
    const lotId = request.params.id;
    const typed = typedBody(request.body);
    return atBench(request, reply, lotId, 'weighing', typed, () => {
      const stockLot = stockLotById(db, idOf(typed, 'stockLotId'));
      const text = typed['amount'] ?? '';
      if (text.trim() === '') throw invalid({ amount: 'Type what the scale says.' });
      if (!stockLot) throw invalid({ stockLotId: 'Choose a container.' });
      const componentId = idOf(typed, 'componentId');
      const line = componentOf(db, lotId, componentId);
      const amount = readingAmount({ text, unit: stockLot.unit, container: stockLot.code });
      const isWhatWasAsked =
        !typed['measure'] ||
        !line ||
        typed['measure'] === measureOf({ unit: stockLot.unit, counts: countsForOne(line, stockLot) });
      if (!isWhatWasAsked && !hasUnit(text)) throw invalid({ amount: otherContainerWords(stockLot, text) });
      return recordWeighing(
        deps,
        {
          lotId,
          componentId,
          stockLotId: stockLot.id,
          amount,
          confirmed:
            typed['confirmed'] === `${stockLot.id}:${amount}` ||
            // Kept on a device by a page that did not ask yet: it has happened, and is recorded as before.
            (typed['at'] !== undefined &&
              typed['confirmed'] === undefined &&
              stockLot.unit === (line?.plannedMassMg == null ? 'ul' : 'mg')),
          ...saidOf(typed),
        },
        actorOf(request),
      );
    });
  });

  /** A bare number was typed while the screen asked for what another container holds. */
  const otherContainerWords = (stockLot: StockLotRow, text: string): string =>
    `${stockLot.code} is ${stockLot.unit === 'mg' ? 'weighed: type grams' : `${stockLot.concPpm === null ? '' : `a ${stockLot.concPpm / 10_000} % solution, `}measured: type millilitres`}. The screen asked for what another container holds when “${text.trim()}” was typed; it asks for this one’s now.`;

  const Way = z.object({
    way: z.enum(['moreGoods', 'deeper', 'weighAgain', 'addOthersToBath', 'keepAsMade']),
    stage: z.enum(['dry', 'inBath']),
    vessel: z.enum(['own', 'shared']),
  });
  /** The figures that a form of a way out carries; null where it carries none that can be read, as one of an earlier version. */
  const confirmedOf = (typed: Typed): ConfirmedWay | null => {
    try {
      return ConfirmedWayShape.safeParse(JSON.parse(typed['confirmed'] ?? '')).data ?? null;
    } catch {
      return null;
    }
  };
  app.post(
    '/lots/:id/adjustments',
    { config: { may: 'log' }, schema: { params: idParams } },
    async (request, reply) => {
      const lotId = request.params.id;
      const typed = typedBody(request.body);
      return atBench(request, reply, lotId, 'adjustment', typed, () =>
        takeWayOut(
          deps,
          {
            lotId,
            componentId: idOf(typed, 'componentId'),
            ...readInput(Way, typed),
            confirmed: confirmedOf(typed),
            ...saidOf(typed),
          },
          actorOf(request),
        ),
      );
    },
  );

  const Step = z.object({
    kind: z.enum(['stepStart', 'stepEnd']),
    next: z.coerce.number().int().positive().optional(),
  });
  app.post('/lots/:id/steps', { config: { may: 'log' }, schema: { params: idParams } }, async (request, reply) => {
    const lotId = request.params.id;
    const typed = typedBody(request.body);
    return atBench(request, reply, lotId, 'step', typed, () => {
      const base = { lotId, stepId: idOf(typed, 'stepId'), ...saidOf(typed) };
      const { kind, next } = readInput(Step, typed);
      return kind === 'stepEnd' && next !== undefined
        ? recordStepChange(deps, { ...base, thenStepId: next }, actorOf(request))
        : recordStep(deps, { ...base, kind }, actorOf(request));
    });
  });

  const Entry = z.object({
    kind: z.enum(['note', 'deviation', 'temperature', 'field']),
    text: z.string().default(''),
    temp: z.string().default(''),
    label: z.string().max(80).default(''),
  });
  const Deviation = z.object({
    instead: z.string({ error: 'Choose what of the plan it was instead of.' }),
    did: z.enum(dids, { error: 'Choose what you did.' }),
    text: z.string().default(''),
  });
  app.post('/lots/:id/log', { config: { may: 'log' }, schema: { params: idParams } }, async (request, reply) => {
    const lotId = request.params.id;
    const typed = typedBody(request.body);
    if (typed['did'] !== undefined)
      return atBench(request, reply, lotId, 'deviation', typed, () =>
        recordDeviation(
          deps,
          {
            lotId,
            ...readInput(Deviation, typed),
            ...saidDuring(lotId, typed),
          },
          actorOf(request),
        ),
      );
    return atBench(request, reply, lotId, typed['kind'] === 'temperature' ? 'temperature' : 'log', typed, () => {
      const { kind, text, temp, label } = readInput(Entry, typed);
      const base = {
        lotId,
        kind,
        photoId: null,
        ...saidDuring(lotId, typed),
      };
      if (kind === 'temperature') {
        const tempC = tempCOf({ text: temp, scale: showOf(db).units === 'us' ? 'F' : 'C', field: 'temp' });
        return recordEntry(
          deps,
          { ...base, text: show.temperature(showOf(db), tempC), value: { tempC } },
          actorOf(request),
        );
      }
      return recordEntry(
        deps,
        { ...base, text, ...(kind === 'field' && text.trim() !== '' ? { value: { label } } : {}) },
        actorOf(request),
      );
    });
  });

  /** The step that was under way then, to which a note belongs: an entry kept on a device arrives long after. */
  const stepAt = (lotId: number, at: number): number | null =>
    benchOf(db, lotId, now()).steps.findLast(
      (s) => s.startedAt !== null && s.startedAt <= at && (s.endedAt === null || s.endedAt > at),
    )?.stepId ?? null;

  app.post('/lots/:id/photos', { config: { may: 'log' }, schema: { params: idParams } }, async (request, reply) => {
    const lotId = request.params.id;
    if (!lotById(db, lotId)) throw notFound('lot');
    const { typed, files } = await readMultipart(request);
    return atBench(request, reply, lotId, 'photo', typed, async () => {
      const [file] = files;
      if (!file) throw invalid({ photo: 'Take or choose a photo first.' });
      const by = actorOf(request);
      return withPhoto(deps, file.buffer, by, (photoId) =>
        recordEntry(
          deps,
          {
            lotId,
            kind: 'photo',
            text: typed['text'] ?? '',
            photoId,
            ...saidDuring(lotId, typed),
          },
          by,
        ),
      );
    });
  });

  app.post(
    '/lots/:id/log/:entryId/voiding',
    {
      config: { may: 'log' },
      schema: {
        params: z.object({ id: z.coerce.number().int().positive(), entryId: z.coerce.number().int().positive() }),
      },
    },
    async (request, reply) => {
      const { id: lotId, entryId } = request.params;
      const typed = typedBody(request.body);
      return atBench(request, reply, lotId, `void-${entryId}`, typed, () =>
        voidEntry(deps, { entryId, reason: typed['reason'] ?? '', ...saidOf(typed) }, actorOf(request)),
      );
    },
  );

  const Answer = z.object({ answer: z.enum(['left', 'undone']), reason: z.string().default('') });
  app.post(
    '/lots/:id/questions/:questionId/answer',
    {
      config: { may: 'log' },
      schema: {
        params: z.object({ id: z.coerce.number().int().positive(), questionId: z.coerce.number().int().positive() }),
      },
    },
    async (request, reply) => {
      const { id: lotId, questionId } = request.params;
      const typed = typedBody(request.body);
      return atBench(request, reply, lotId, 'question', typed, () =>
        answerAtBench(deps, { lotId, questionId, ...readInput(Answer, typed), ...saidOf(typed) }, actorOf(request)),
      );
    },
  );

  const door: BenchDoor = { atBench, saidDuring };
  placementPages(app, deps, door);
  voicePages(app, deps, door);

  // ── finishing ──
  const finishRendering = (lotId: number, personId: number, form: FormState | null): Rendering => {
    const bench = benchOf(db, lotId, now());
    const typed: Record<string, string> = { clientId: newId() };
    if (!form) {
      bench.steps.forEach((step, i) => {
        const planned = bench.plan.steps.find((p) => p.ordinal === step.ordinal)?.handsOnS ?? 0;
        typed[`time.${i}`] = planned > 0 ? durationText({ durationS: planned }) : '';
        typed[`personId.${i}`] = String(personId);
      });
      typed[`personId.${bench.steps.length}`] = String(personId);
    }
    return {
      title: `Finish lot ${bench.lot.number}`,
      section: 'lots',
      body: finishPage({
        lotId,
        number: bench.lot.number,
        goodsText: bench.lot.goodsText,
        pieces: bench.lot.pieces,
        form: form ?? { typed, errors: {} },
        currency: theStudio(db).currency,
        people: listPeople(db)
          .filter((p) => p.active === 1)
          .map((p) => ({ value: String(p.id), label: p.name })),
        steps: bench.steps.map((s) => ({ stepId: s.stepId, name: s.name })),
        unweighed: bench.lines.filter((l) => l.actual === undefined).map((l) => l.component.name),
        clientId: form?.typed['clientId'] ?? typed['clientId'] ?? newId(),
      }),
    };
  };

  app.get('/lots/:id/outcome', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) => {
    const lot = lotById(db, request.params.id);
    if (!lot) throw notFound('lot');
    if (lot.finishedAt !== null) return seeOther(reply, `/lots/${lot.id}`);
    return sendPage(request, reply, finishRendering(lot.id, actorOf(request).personId, null));
  });

  const OutcomeForm = (currency: string) =>
    z.object({
      firstQuality: countField('How many came out first quality?'),
      seconds: optionalCount(),
      rework: optionalCount(),
      scrap: optionalCount(),
      secondsValue: optionalMoneyMinor(currency),
      note: optionalText(4000),
      doDifferently: optionalText(4000),
      unweighedConfirmed: z.literal('yes').optional(),
      clientId: z.string().min(8).max(64),
    });

  /** Hands: one row a step; a time that cannot be read is a message beside it. */
  function labourRows(typed: Typed): { stepId: number | null; personId: number; durationS: number }[] {
    const errors: Record<string, string> = {};
    const rows = typedRows(typed, ['stepId', 'time', 'personId']).flatMap((r) => {
      if (r.time === '') return [];
      const parsed = optionalDurationS('min').safeParse(r.time);
      if (!parsed.success) errors[`time.${r.row}`] = parsed.error.issues[0]?.message ?? 'That is not a time.';
      return parsed.success && parsed.data !== null
        ? [{ stepId: r.stepId === '' ? null : Number(r.stepId), personId: Number(r.personId), durationS: parsed.data }]
        : [];
    });
    demandNone(errors);
    return rows;
  }

  app.post('/lots/:id/outcome', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: OutcomeForm(theStudio(db).currency),
      save: (input, typed) => {
        finishLot(
          deps,
          {
            lotId: request.params.id,
            firstQuality: input.firstQuality,
            seconds: input.seconds ?? 0,
            rework: input.rework ?? 0,
            scrap: input.scrap ?? 0,
            secondsValueMinor: input.secondsValue ?? 0,
            note: input.note,
            doDifferently: input.doDifferently,
            labour: labourRows(typed),
            unweighedConfirmed: input.unweighedConfirmed === 'yes',
            clientId: input.clientId,
            at: now(),
          },
          actorOf(request),
        );
        return `/lots/${request.params.id}`;
      },
      again: (form) => finishRendering(request.params.id, actorOf(request).personId, form),
    }),
  );

  app.post('/lots/:id/abandonment', { config: { may: 'work' }, schema: { params: idParams } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: z.object({
        reason: z.string().trim().min(1, 'Say why, for the log.').max(500),
        clientId: z.string().min(8).max(64),
      }),
      save: (input) => {
        abandonLot(deps, { lotId: request.params.id, ...input, at: now() }, actorOf(request));
        return `/lots/${request.params.id}`;
      },
      again: (form) => finishRendering(request.params.id, actorOf(request).personId, form),
    }),
  );
}
