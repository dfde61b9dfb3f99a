import type { FastifyReply, FastifyRequest } from 'fastify';
import { bench as benchView } from '../../views/bench/bench.ts';
import type { WeighOrder } from '../../views/bench/props.ts';
import type { FormState, Typed } from '../../views/kit/field.ts';
import { readingAmount } from '../calc/plausibleReading.ts';
import type { Db } from '../db/open.ts';
import type { Deps } from '../deps.ts';
import { asRefusal, invalid, Refusal } from '../errors.ts';
import { type Rendering, seeOther, sendPage, wantsPart } from '../http/page.ts';
import { benchOf } from '../lots/benchState.ts';
import type { SentOccurrence } from '../lots/occurrence.ts';
import { actorOf } from '../people/guards.ts';
import { stockLotById } from '../stock/queries.ts';
import { benchProps } from './present.ts';

/* What every action at the bench has in common: it is done and the bench is shown anew, or it is refused with what was typed still
 * there; and what a device says of its own id and time. */

/** The bench, with the line that was chosen and the form that was refused. */
export function benchRendering(
  deps: Deps,
  request: FastifyRequest,
  lotId: number,
  shown: { line: number | null; order: WeighOrder; refused?: { form: string; state: FormState } },
): Rendering {
  const bench = benchOf(deps.db, lotId, deps.now());
  return {
    title: `Bench, lot ${bench.lot.number}`,
    section: 'lots',
    shape: 'bench',
    scripts: ['bench.js', 'voice.js'],
    body: benchView(benchProps(deps, bench, shown.line, shown.order, shown.refused ?? null, actorOf(request))),
  };
}

export interface AtBench {
  lotId: number;
  /** By which name a refusal finds its form again. */
  form: string;
  typed: Typed;
}

/** One bench action: done and shown anew, or refused with what was typed still there. */
export async function atBench(
  deps: Deps,
  request: FastifyRequest,
  reply: FastifyReply,
  { lotId, form, typed }: AtBench,
  act: () => unknown,
): Promise<FastifyReply> {
  const order = orderOf(typed['order']);
  const kept = typed['person'];
  if (kept !== undefined && kept !== String(actorOf(request).personId))
    throw new Refusal('notSignedIn', 'This was kept on the device by somebody else; it goes out when they sign in.');
  try {
    await act();
    if (!wantsPart(request)) return seeOther(reply, `/lots/${lotId}/bench${order === 'plan' ? '' : `?order=${order}`}`);
    return sendPage(request, reply, benchRendering(deps, request, lotId, { line: null, order }));
  } catch (error) {
    const refusal = asRefusal(error);
    if (!refusal || refusal.code === 'notFound' || refusal.code === 'lotFinished') throw error;
    const errors = Object.keys(refusal.fields).length > 0 ? refusal.fields : { '': refusal.message };
    const line = Number(typed['componentId']);
    const state = { typed: { ...typed, ...confirmingOf(deps.db, refusal, typed) }, errors };
    return sendPage(request, reply, {
      ...benchRendering(deps, request, lotId, {
        line: Number.isSafeInteger(line) ? line : null,
        order,
        refused: { form, state },
      }),
      status: refusal.status,
    });
  }
}

/** What the button says that confirms a reading which was asked about. */
function confirmingOf(db: Db, refusal: Refusal, typed: Typed): Typed {
  const stockLot = refusal.code === 'needsConfirming' ? stockLotById(db, Number(typed['stockLotId'])) : undefined;
  if (!stockLot) return {};
  const amount = readingAmount({ text: typed['amount'] ?? '', unit: stockLot.unit, container: stockLot.code });
  const confirmingWords = `${amount / 1000} ${stockLot.unit === 'mg' ? 'g' : 'mL'}`;
  return { confirming: `${stockLot.id}:${amount}`, confirmingWords };
}

export const orderOf = (text: string | undefined): WeighOrder =>
  text === 'smallest' || text === 'dye' ? text : 'plan';

/** What a form says of its id and of when it happened: by the device that kept it while the network was away; now otherwise. */
export function saidOf({ now, newId }: Deps, typed: Typed): SentOccurrence & { derived: string[] } {
  const clientId = typed['clientId'] ?? '';
  const at = Number(typed['at']);
  return {
    clientId: /^[\w:.-]{8,64}$/.test(clientId) ? clientId : newId(),
    at: typed['at'] && Number.isSafeInteger(at) && at > 0 ? at : now(),
    derived: typed['at'] ? [] : ['at'],
  };
}

/** The same with the step that was under way then, which the form does not say. */
export function saidDuring(deps: Deps, lotId: number, typed: Typed): SentOccurrence & { stepId: number | null } {
  const said = saidOf(deps, typed);
  return { ...said, stepId: stepAt(deps, lotId, said.at), derived: [...said.derived, 'stepId'] };
}

/** The step that was under way then, to which a note belongs: an entry kept on a device arrives long after. */
const stepAt = ({ db, now }: Deps, lotId: number, at: number): number | null =>
  benchOf(db, lotId, now()).steps.findLast(
    (s) => s.startedAt !== null && s.startedAt <= at && (s.endedAt === null || s.endedAt > at),
  )?.stepId ?? null;

export function idOf(typed: Typed, name: string): number {
  const text = typed[name] ?? '';
  if (!/^[1-9]\d{0,14}$/.test(text)) throw invalid({ [name]: 'Choose one.' });
  return Number(text);
}
