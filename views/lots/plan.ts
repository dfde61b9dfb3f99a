import { type Html, html, type Value } from '../html.ts';
import { ids } from '../ids.ts';
import {
  checkbox,
  choice,
  type FormState,
  field,
  fieldError,
  formNotice,
  type Option,
  selectField,
} from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';

export interface PlanPageProps {
  form: FormState;
  fibres: readonly Option[];
  methods: readonly Option[];
  recipes: readonly Option[];
  orderLines: readonly Option[];
  goodsContainers: readonly Option[];
  colourRowCount: number;
  /** Shades that were planned of late, newest first. */
  recentShades: readonly { revisionId: number; name: string }[];
  /** A recipe's own depth as the field takes it, by revision: what the depth is until somebody says another. */
  depths: Readonly<Record<number, string>>;
  /** Where the plan came from, in words: a swatch, an order line, an earlier lot. */
  from: Value;
  weighUp: Html;
}

const colourRow = (p: PlanPageProps, i: number): Html => html`<div class="colour-row">
  <input type="hidden" name="swatchId.${i}" value="${p.form.typed[`swatchId.${i}`] ?? ''}">
  ${selectField({ name: `revisionId.${i}`, label: 'Recipe', form: p.form, options: p.recipes, none: 'choose a shade' })}
  ${field({ name: `depth.${i}`, label: 'Depth', form: p.form, unit: '% owg', inputmode: 'decimal' })}
  <div class="when-many">${field({
    name: `share.${i}`,
    label: 'Share of the piece',
    form: p.form,
    unit: '%',
    inputmode: 'decimal',
    placeholder: 'equal parts',
  })}</div>
  ${field({ name: `placement.${i}`, label: 'Placement', form: p.form, placeholder: 'left third, on the folds' })}
</div>`;

const massFields = ({ form }: PlanPageProps): Html => html`
  ${choice({
    name: 'massFound',
    label: 'How the mass is found',
    form,
    options: [
      { value: 'weighedDry', label: 'weighed dry' },
      { value: 'weighedDamp', label: 'weighed damp' },
      { value: 'fromArea', label: 'from its area' },
      { value: 'fromPutUps', label: 'from put-ups' },
      { value: 'stated', label: 'stated by the customer' },
    ],
  })}
  <div class="grid when when-dry">${field({
    name: 'mass',
    label: 'Mass of the dry goods',
    form,
    placeholder: '1.2 kg',
    hint: 'As conditioned in your studio. 250 g, 1.2 kg and 1 lb 4 oz all read.',
  })}</div>
  <div class="when when-damp"><div class="grid">
    ${field({ name: 'dampMass', label: 'The damp goods weigh', form, placeholder: '1.62 kg' })}
    ${choice({
      name: 'moistureKind',
      label: 'Their water is known from',
      form,
      options: [
        { value: 'sample', label: 'a piece that I dried' },
        { value: 'known', label: 'a percentage' },
      ],
    })}</div>
    <div class="grid when-sample">
      ${field({ name: 'sampleDamp', label: 'The piece, damp', form, placeholder: '54 g' })}
      ${field({ name: 'sampleDry', label: 'The same piece, dry', form, placeholder: '40 g' })}
      ${choice({
        name: 'driedTo',
        label: 'Dried',
        form,
        options: [
          { value: 'airDry', label: 'in the air of the studio' },
          { value: 'ovenDry', label: 'bone dry' },
        ],
      })}
    </div>
    <div class="grid when-known">${field({
      name: 'water',
      label: 'Water on the oven-dry mass',
      form,
      unit: '%',
      inputmode: 'decimal',
    })}</div>
  </div>
  <div class="grid when when-area">
    ${field({ name: 'length', label: 'Length of a piece', form, placeholder: '2.5 m' })}
    ${field({ name: 'width', label: 'Width, if not the fibre’s own', form, placeholder: '112 cm' })}
    ${field({ name: 'areaPieces', label: 'Pieces', form, inputmode: 'numeric', size: 'short' })}
  </div>
  <div class="grid when when-putups">${field({
    name: 'putUps',
    label: 'Put-ups (hanks, balls, cones)',
    form,
    inputmode: 'numeric',
    size: 'short',
  })}</div>`;

/** Plan a lot: the form, with the weigh-up live beside it. Long because it is one page, from top to bottom. */
export const planPage = (
  p: PlanPageProps,
): Html => html`${pageHead({ title: 'Plan a lot', crumb: { href: '/lots', label: 'Production log' }, lead: p.from })}
<form method="post" action="/lots" class="plan" data-depths="${JSON.stringify(
  p.depths,
)}" novalidate hx-post="/lots/plan" hx-trigger="load, input delay:350ms, change" hx-target="#${ids.weighUp}"
  hx-swap="outerHTML">
  <div class="plan-form stack">${formNotice(p.form)}
  <input type="hidden" name="repeatsLotId" value="${p.form.typed['repeatsLotId'] ?? ''}">
  <fieldset class="panel"><legend>1 · Goods</legend><div class="stack">
    <div class="grid">
      ${selectField({
        name: 'orderLineId',
        label: 'For the order line',
        form: p.form,
        options: p.orderLines,
        none: 'no order, for stock or trial',
      })}
      ${field({
        name: 'goodsText',
        label: 'What it is',
        form: p.form,
        required: true,
        placeholder: '24 napkins, hemmed',
      })}
      ${selectField({
        name: 'fibreId',
        label: 'Fibre',
        form: p.form,
        options: p.fibres,
        none: 'choose',
        required: true,
      })}
      ${field({ name: 'pieces', label: 'Pieces', form: p.form, inputmode: 'numeric', size: 'short' })}
    </div>
    ${
      (p.form.errors['morePiecesConfirmed'] || p.form.typed['morePiecesConfirmed'] === 'yes') &&
      checkbox({ name: 'morePiecesConfirmed', label: 'More pieces than the line wants are meant', form: p.form })
    }
    ${massFields(p)}
    <div class="grid">
      ${choice({
        name: 'goodsOwner',
        label: 'The goods are',
        form: p.form,
        options: [
          { value: 'studio', label: 'the studio’s' },
          { value: 'customer', label: 'the customer’s' },
        ],
      })}
      ${
        p.goodsContainers.length > 0 &&
        selectField({
          name: 'goodsStockLotId',
          label: 'Taken from stock',
          form: p.form,
          options: p.goodsContainers,
          none: 'not from a stock container',
        })
      }
    </div>
  </div></fieldset>
  <fieldset class="panel"><legend>2 · Colours</legend>
    <div id="${ids.colourRows}" class="colour-rows">${Array.from({ length: p.colourRowCount }, (_, i) =>
      colourRow(p, i),
    )}</div>
    ${
      p.recentShades.length > 0 &&
      html`<div class="shade-taps" role="group"
      aria-label="Add a shade of late with one tap"><span class="fine">One tap adds a shade of late</span>
      <div class="taps">${p.recentShades.map(
        (s) => html`<button type="button" class="quiet"
      data-shade="${s.revisionId}">${s.name}</button>`,
      )}</div></div>`
    }
    <p><button type="button" class="quiet" data-add-row="${ids.colourRows}">Add a colour</button></p>
    ${
      (p.form.errors['depthConfirmed'] || p.form.typed['depthConfirmed'] === 'yes') &&
      checkbox({ name: 'depthConfirmed', label: 'That depth is meant', form: p.form })
    }
    <div class="when-many">${choice({
      name: 'coverage',
      label: 'Several colours on one piece',
      form: p.form,
      options: [
        { value: 'eachOverItsShare', label: 'each over its share, at its depth there' },
        { value: 'eachOverAll', label: 'each at its depth over all of the piece' },
      ],
      hint: 'The two differ by the number of colours. The total depth that results is shown in the weigh-up.',
    })}</div>
  </fieldset>
  <fieldset class="panel"><legend>3 · Method</legend><div class="grid">
    ${selectField({
      name: 'methodId',
      label: 'Method',
      form: p.form,
      options: p.methods,
      none: 'choose',
      required: true,
    })}
    ${field({ name: 'plannedForOn', label: 'Planned for', form: p.form, type: 'date' })}
  </div>
  <details ${
    ['bath', 'soak', 'loss'].some((n) => p.form.typed[n] || p.form.errors[n]) && html`open`
  }><summary>Other volumes, loss, solutions than the method’s</summary><div class="grid">
    ${field({
      name: 'bath',
      label: 'Bath',
      form: p.form,
      placeholder: 'by the liquor ratio',
      hint: '6 L, 1½ gal. All solutions are part of it.',
    })}
    ${field({ name: 'soak', label: 'Soak', form: p.form, placeholder: 'by the soak ratio' })}
    ${field({ name: 'loss', label: 'Loss allowance', form: p.form, unit: '%', inputmode: 'decimal' })}
    ${choice({
      name: 'solutions',
      label: 'Below the scale’s floor',
      form: p.form,
      options: [
        { value: 'auto', label: 'use stock solution' },
        { value: 'never', label: 'weigh powder all the same' },
      ],
    })}
  </div></details></fieldset>
  ${fieldError('stock', p.form)}
  <div class="taps"><button class="primary big">Plan this lot</button><button class="big" name="goOn"
    value="bench">Plan it and go to the bench</button></div>
  </div>
  <div class="plan-aside">${p.weighUp}</div>
</form>`;
