import type { FastifyRequest } from 'fastify';
import type { FormState } from '../../../views/kit/field.ts';
import { correctionPage } from '../../../views/matching/correction.ts';
import { recordEntry } from '../../bench/recordEntry.ts';
import { keptConditions } from '../../calc/colour/reading.ts';
import { differenceInWords } from '../../calc/colour/tolerance.ts';
import type { Db } from '../../db/open.ts';
import { invalid } from '../../errors.ts';
import { readInput, submitForm, typedBody } from '../../http/forms.ts';
import { type Rendering, sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf, allows } from '../../people/guards.ts';
import { showOf } from '../../settings/show.ts';
import { idParams } from '../../typedFields.ts';
import { additionWords, type CorrectionAnswer, type CorrectionOffer, correctionOf } from '../corrections.ts';
import { AdditionForm, CorrectionQuery } from '../schemas.ts';

/** About how much less lightness an overdye needs to hide what is below it. */
const DARKER_FACTOR = 0.8;

/** Proposals for a colour dark enough to overdye the lot to. */
function darkerHref({ came: { lab }, conditions, fibreId, methodId }: CorrectionAnswer): string {
  const address = new URLSearchParams({
    colour: `${(lab.L * DARKER_FACTOR).toFixed(1)} ${lab.a.toFixed(1)} ${lab.b.toFixed(1)}`,
    ...keptConditions(conditions),
    fibreId: String(fibreId),
    methodId: String(methodId),
  });
  return `/colour/proposals?${address}`;
}

const adviceView = (found: CorrectionAnswer) =>
  found.advice.known
    ? {
        ...found.advice,
        deltaInWords: differenceInWords({ deltaE2000: found.advice.deltaE2000Now }),
        offers: found.advice.offers.map((o) => ({ ...o, words: additionWords(found, o) })),
      }
    : { known: false as const, message: found.advice.message };

const correctionRendering = (db: Db, request: FastifyRequest, found: CorrectionAnswer, form: FormState): Rendering => ({
  title: `Correct lot ${found.lotNumber}: ${found.came.text}`,
  section: 'lots',
  body: correctionPage({
    ...found,
    advice: adviceView(found),
    darkerHref: darkerHref(found),
    form,
    mayLog: allows(request.actor, 'log'),
    show: showOf(db),
  }),
});

export const showCorrection = page({
  params: idParams,
  show: async ({ db, now }, { params, request, reply }) => {
    const { standard } = readInput(CorrectionQuery, typedBody(request.query));
    const asked = { lotId: params.id, standardSwatchId: standard ?? null, now: now() };
    const found = await correctionOf(db, asked, 'atHand');
    return sendPage(request, reply, correctionRendering(db, request, found, { typed: {}, errors: {} }));
  },
});

/** The offer that the page showed; refused when the record says another one by now. */
function chosenOffer(found: CorrectionAnswer, offer: number, words: string): CorrectionOffer {
  const chosen = found.advice.known ? found.advice.offers[offer] : undefined;
  if (!chosen || additionWords(found, chosen) !== words)
    throw invalid({}, 'The reckoning changed meanwhile: look at the offers again.');
  return chosen;
}

export const noteAddition = page({
  params: idParams,
  show: (deps, { params: { id: lotId }, request, reply }) => {
    const correction = (standardSwatchId: number | null) =>
      correctionOf(deps.db, { lotId, standardSwatchId, now: deps.now() }, 'atHand');
    return submitForm(request, reply, {
      schema: AdditionForm,
      save: async ({ offer, words, standard }) => {
        const chosen = chosenOffer(await correction(standard), offer, words);
        recordEntry(
          deps,
          {
            lotId,
            kind: 'note',
            text: words,
            stepId: null,
            photoId: null,
            value: {
              shadingAddition: chosen.additions.map((a) => ({ dyeId: a.dyeId, massMg: a.massMg })),
              predictedDeltaE2000: chosen.deltaE2000,
              deltaE90: chosen.deltaE90,
            },
            clientId: deps.newId(),
            at: deps.now(),
          },
          actorOf(request),
        );
        return `/lots/${lotId}`;
      },
      again: async (form) =>
        correctionRendering(deps.db, request, await correction(Number(form.typed['standard']) || null), form),
    });
  },
});
