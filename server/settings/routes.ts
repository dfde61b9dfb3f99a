import { renderSVG } from 'uqr';
import { z } from 'zod';
import type { FormState } from '../../views/kit/field.ts';
import { emptyForm } from '../../views/kit/field.ts';
import { day, grams } from '../../views/kit/show.ts';
import { settingsPage } from '../../views/settings/settingsPage.ts';
import { pctTyped } from '../calc/quantity.ts';
import { minorUnitDecimals } from '../calc/rounding.ts';
import type { Deps } from '../deps.ts';
import { invalid, notFound, Refusal } from '../errors.ts';
import { networkAddresses } from '../http/addresses.ts';
import type { App } from '../http/app.ts';
import { submitForm } from '../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../http/page.ts';
import { actorOf } from '../people/guards.ts';
import { listTokens, revokeToken } from '../people/queries.ts';
import { TokenForm } from '../people/schemas.ts';
import { makeToken } from '../people/signIn.ts';
import { idParams } from '../typedFields.ts';
import { currencyOptions, zoneNames } from './choices.ts';
import { dayOf } from './days.ts';
import {
  hasPrices,
  insertScale,
  listScales,
  makeScaleDefault,
  newestLink,
  noteValuation,
  theStudio,
  updateStudio,
} from './queries.ts';
import { ScaleForm, SettingsForm } from './schemas.ts';
import { trustPages } from './trustRoutes.ts';

const decimal = (minor: number, currency: string): string =>
  (minor / 10 ** minorUnitDecimals({ currency })).toFixed(minorUnitDecimals({ currency }));

export function pages(app: App, deps: Deps): void {
  trustPages(app, deps);
  const { db, config } = deps;
  const render = (
    mayChange: boolean,
    forms: Partial<{ studio: FormState; scale: FormState; token: FormState; freshToken: string }> = {},
  ): Rendering => {
    const s = theStudio(db);
    const port = (app.server.address() as { port: number } | null)?.port ?? config.port;
    const on = (at: number | null): string => (at === null ? '—' : day(dayOf(at, s.zone)));
    return {
      title: 'Settings',
      section: 'settings',
      body: settingsPage({
        mayChange,
        studio: forms.studio ?? {
          errors: {},
          typed: {
            name: s.name,
            currency: s.currency,
            zone: s.zone,
            units: s.units,
            labourRate: decimal(s.labourRateMinorPerHour, s.currency),
            overheadRate: decimal(s.overheadRateMinorPerHour, s.currency),
            weighingTolerance: pctTyped({ ppm: s.weighingTolerancePpm }),
            weighingFloor: pctTyped({ ppm: s.weighingFloorPpm }),
            stockConc: pctTyped({ ppm: s.stockConcPpm }),
            costing: s.costing,
            version: String(s.version),
          },
        },
        scale: forms.scale ?? { typed: { readabilityMg: '10' }, errors: {} },
        token: forms.token ?? { typed: { scope: 'read' }, errors: {} },
        freshToken: forms.freshToken ?? null,
        currencies: currencyOptions(),
        zones: zoneNames(),
        currencySymbol: s.currency,
        scales: listScales(db).map((x) => ({
          id: x.id,
          name: x.name,
          readability: grams(x.readabilityMg, x.readabilityMg),
          isDefault: x.isDefault === 1,
        })),
        record: newestLink(db),
        addresses: networkAddresses(config, port).map((url) => ({ url, qrSvg: renderSVG(url) })),
        tokens: listTokens(db).map((t) => ({
          id: t.id,
          name: t.name,
          scope: t.scope === 'read' ? 'read' : 'read and record',
          person: t.personName,
          made: on(t.createdAt),
          lastUsed: on(t.lastUsedAt),
          expires: t.expiresAt === null ? 'revoked' : on(t.expiresAt),
        })),
      }),
    };
  };

  app.get('/settings', { config: { may: 'look' } }, async (request, reply) =>
    sendPage(request, reply, render(actorOf(request).role === 'owner')),
  );

  app.post('/settings', { config: { may: 'own' } }, async (request, reply) => {
    const typedCurrency = z.object({ currency: z.string().regex(/^[A-Z]{3}$/) }).safeParse(request.body);
    const chosen = typedCurrency.success ? typedCurrency.data.currency : theStudio(db).currency;
    return submitForm(request, reply, {
      schema: SettingsForm(chosen),
      save: (input) => {
        if (input.currency !== theStudio(db).currency && hasPrices(db)) {
          throw invalid({
            currency: 'There are prices in the old currency already, and they would be read as the new one.',
          });
        }
        const before = theStudio(db);
        const saved = db.transaction((tx) => {
          const isSaved = updateStudio(
            tx,
            {
              name: input.name,
              currency: input.currency,
              zone: input.zone,
              units: input.units,
              labourRateMinorPerHour: input.labourRate,
              overheadRateMinorPerHour: input.overheadRate,
              weighingTolerancePpm: input.weighingTolerance,
              weighingFloorPpm: input.weighingFloor,
              stockConcPpm: input.stockConc,
              ...(input.costing === undefined ? {} : { costing: input.costing }),
            },
            input.version,
          );
          if (isSaved && input.costing !== undefined && input.costing !== before.costing) {
            noteValuation(tx, {
              valuationBefore: before.costing,
              valuation: input.costing,
              changedAt: deps.now(),
              changedBy: actorOf(request).personId,
            });
          }
          return isSaved;
        });
        if (!saved)
          throw new Refusal(
            'staleEdit',
            'Somebody saved these settings meanwhile. Below is what you typed; the saved ones are on the Settings page.',
          );
        return '/settings';
      },
      again: (studio) => render(true, { studio }),
    });
  });

  app.post('/settings/scales', { config: { may: 'own' } }, async (request, reply) =>
    submitForm(request, reply, {
      schema: ScaleForm,
      save: (input) => {
        db.transaction((tx) =>
          insertScale(tx, {
            name: input.scaleName,
            readabilityMg: input.readabilityMg,
            capacityMg: null,
            isDefault: input.isDefault ? 1 : 0,
          }),
        );
        return '/settings#scales';
      },
      again: (scale) => render(true, { scale }),
    }),
  );

  app.post(
    '/settings/scales/:id/choice',
    { config: { may: 'own' }, schema: { params: idParams } },
    async (request, reply) => {
      if (!db.transaction((tx) => makeScaleDefault(tx, request.params.id))) throw notFound('scale');
      return seeOther(reply, '/settings#scales');
    },
  );

  // The token is shown in the answer to the form and nowhere else, so this one post renders instead of going on.
  app.post('/settings/tokens', { config: { may: 'own' } }, async (request, reply) => {
    let freshToken = '';
    await submitForm(request, reply, {
      schema: TokenForm,
      save: (input) => {
        const expiresAt = input.days === '' ? null : deps.now() + Number(input.days) * 86_400_000;
        freshToken = makeToken(
          deps,
          { name: input.name, scope: input.scope, expiresAt },
          actorOf(request).personId,
        ).token;
        return '';
      },
      again: (token) => render(true, { token }),
      done: () => sendPage(request, reply, { ...render(true, { token: emptyForm, freshToken }), status: 201 }),
    });
    return reply;
  });

  app.post(
    '/settings/tokens/:id/revocation',
    { config: { may: 'own' }, schema: { params: idParams } },
    async (request, reply) => {
      if (revokeToken(db, request.params.id, deps.now()) === 0) throw notFound('token');
      return seeOther(reply, '/settings#tokens');
    },
  );
}
