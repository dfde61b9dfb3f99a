import type { FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { FormState } from '../../../views/kit/field.ts';
import { grams } from '../../../views/kit/show.ts';
import { settingsPage } from '../../../views/settings/settings.ts';
import { pctTyped } from '../../calc/quantity.ts';
import { minorUnitDecimals } from '../../calc/rounding.ts';
import type { Db } from '../../db/open.ts';
import type { StudioRow } from '../../db/tables/studio.ts';
import type { Deps } from '../../deps.ts';
import { invalid, notFound, Refusal } from '../../errors.ts';
import { submitForm } from '../../http/forms.ts';
import { type Rendering, seeOther, sendPage } from '../../http/page.ts';
import { ownAddressesWithCodes } from '../../http/qrCode.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { idParams } from '../../typedFields.ts';
import { currencyOptions, zoneNames } from '../choices.ts';
import {
  hasPrices,
  insertScale,
  listScales,
  makeScaleDefault,
  newestLink,
  noteValuation,
  theStudio,
  updateStudio,
} from '../queries.ts';
import { ScaleForm, SettingsForm } from '../schemas.ts';

const decimal = (minor: number, currency: string): string =>
  (minor / 10 ** minorUnitDecimals({ currency })).toFixed(minorUnitDecimals({ currency }));

const typedOf = (s: StudioRow): Record<string, string> => ({
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
});

function settings(
  { db, config }: Deps,
  request: FastifyRequest,
  forms: Partial<{ studio: FormState; scale: FormState }> = {},
): Rendering {
  const s = theStudio(db);
  return {
    title: 'Settings',
    section: 'settings',
    body: settingsPage({
      mayChange: actorOf(request).role === 'owner',
      studio: forms.studio ?? { errors: {}, typed: typedOf(s) },
      scale: forms.scale ?? { typed: { readabilityMg: '10' }, errors: {} },
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
      addresses: ownAddressesWithCodes(request, config),
    }),
  };
}

export const showSettings = page({
  show: (deps, { request, reply }) => sendPage(request, reply, settings(deps, request)),
});

/** In which currency the rates of the form are read: the one chosen in it. */
function chosenCurrency(db: Db, body: unknown): string {
  const typed = z.object({ currency: z.string().regex(/^[A-Z]{3}$/) }).safeParse(body);
  return typed.success ? typed.data.currency : theStudio(db).currency;
}

export const saveSettings = page({
  show: (deps, { request, reply }) =>
    submitForm(request, reply, {
      schema: SettingsForm(chosenCurrency(deps.db, request.body)),
      save: (input) => {
        changeSettings(deps, input, actorOf(request).personId);
        return '/settings';
      },
      again: (studio) => settings(deps, request, { studio }),
    }),
});

function changeSettings({ db, now }: Deps, input: z.output<ReturnType<typeof SettingsForm>>, personId: number): void {
  const before = theStudio(db);
  if (input.currency !== before.currency && hasPrices(db)) {
    throw invalid({
      currency: 'There are prices in the old currency already, and they would be read as the new one.',
    });
  }
  const { labourRate, overheadRate, weighingTolerance, weighingFloor, stockConc, costing, version, ...plain } = input;
  const saved = db.transaction((tx) => {
    const isSaved = updateStudio(
      tx,
      {
        ...plain,
        labourRateMinorPerHour: labourRate,
        overheadRateMinorPerHour: overheadRate,
        weighingTolerancePpm: weighingTolerance,
        weighingFloorPpm: weighingFloor,
        stockConcPpm: stockConc,
        ...(costing === undefined ? {} : { costing }),
      },
      version,
    );
    if (isSaved && costing !== undefined && costing !== before.costing) {
      const change = { valuationBefore: before.costing, valuation: costing };
      noteValuation(tx, { ...change, changedAt: now(), changedBy: personId });
    }
    return isSaved;
  });
  if (!saved)
    throw new Refusal(
      'staleEdit',
      'Somebody saved these settings meanwhile. Below is what you typed; the saved ones are on the Settings page.',
    );
}

export const addScale = page({
  show: (deps, { request, reply }) =>
    submitForm(request, reply, {
      schema: ScaleForm,
      save: ({ scaleName, readabilityMg, isDefault }) => {
        const row = { name: scaleName, readabilityMg, capacityMg: null, isDefault: isDefault ? 1 : 0 };
        deps.db.transaction((tx) => insertScale(tx, row));
        return '/settings#scales';
      },
      again: (scale) => settings(deps, request, { scale }),
    }),
});

export const chooseScale = page({
  params: idParams,
  show: ({ db }, { params, reply }) => {
    if (!db.transaction((tx) => makeScaleDefault(tx, params.id))) throw notFound('scale');
    return seeOther(reply, '/settings#scales');
  },
});
