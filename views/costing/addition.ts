import type { ForgottenKind } from '../../server/costing/schemas.ts';
import { type Html, html } from '../html.ts';
import { checkbox, choice, type FormState, field, formNotice, type Option, selectField } from '../kit/field.ts';
import { pageHead } from '../kit/pageHead.ts';
import { money, type Show } from '../kit/show.ts';

const TABS: Record<ForgottenKind, string> = {
  material: 'Material',
  labour: 'Hands',
  overhead: 'Overhead',
  other: 'Other',
  credit: 'Credit',
};

interface AdditionFormProps {
  lotId: number;
  number: string;
  goodsText: string;
  what: ForgottenKind;
  form: FormState;
  containers: readonly Option[];
  people: readonly Option[];
  overheadMinorPerHour: number;
  isAverage: boolean;
  show: Show;
}

const rate = ({ form, show }: AdditionFormProps, hint: string): Html =>
  field({
    name: 'rate',
    label: 'Rate an hour',
    form,
    unit: show.currency,
    inputmode: 'decimal',
    size: 'short',
    hint,
  });
const time = (form: FormState): Html =>
  field({ name: 'duration', label: 'Time', form, required: true, placeholder: '45 min', size: 'short' });

/** What is asked of each kind of cost. */
const FIELDS: Record<ForgottenKind, (p: AdditionFormProps) => Html> = {
  material: ({ form, ...p }) => html`<div class="grid">
  ${selectField({
    name: 'stockLotId',
    label: 'From container',
    form,
    options: p.containers,
    required: true,
    none: 'Choose a container',
  })}
  ${field({
    name: 'quantity',
    label: 'Quantity',
    form,
    required: true,
    placeholder: '12.5 g',
    size: 'short',
    hint: 'Of a liquid or a solution a volume.',
  })}
  </div>${checkbox({
    name: 'wasted',
    label: 'It was weighed and thrown away',
    form,
    hint: 'Then it counts as waste.',
  })}${
    (form.errors['recalledConfirmed'] || form.typed['recalledConfirmed'] === 'yes') &&
    checkbox({ name: 'recalledConfirmed', label: 'Something of the recalled container is in these goods', form })
  }
  <p class="fine">It leaves the container’s ledger today, and costs ${
    p.isAverage
      ? 'what the moving average was on the day the lot was closed; goods by the roll'
      : 'what was paid for that container'
  }.</p>`,
  labour: (p) => {
    const { form, show } = p;
    return html`<div class="grid">
  ${selectField({ name: 'personId', label: 'Who', form, options: p.people, required: true, none: 'Choose a person' })}
  ${time(form)}${rate(p, 'Left empty: what that person costs today.')}
  </div>${
    p.overheadMinorPerHour > 0 &&
    checkbox({
      name: 'withOverhead',
      label: `With overhead for the same time, ${money(show, p.overheadMinorPerHour)} an hour`,
      form,
    })
  }`;
  },
  overhead: (p) => {
    const { form, show } = p;
    return html`<div class="grid">${time(form)}${rate(
      p,
      `Left empty: ${money(show, p.overheadMinorPerHour)}, as in Settings.`,
    )}</div>`;
  },
  credit: ({ form, show }) => html`${choice({
    name: 'to',
    label: 'Who gets the money',
    form,
    options: [
      { value: 'studio', label: 'The studio: the lot costs less' },
      { value: 'customer', label: 'The customer: the lot costs more' },
    ],
    hint: 'A credit on dye or goods in stock belongs on the page of its container.',
  })}<div class="grid">
  ${field({
    name: 'description',
    label: 'What for',
    form,
    required: true,
    placeholder: 'carrier’s refund, three napkins off shade',
  })}
  ${field({
    name: 'amount',
    label: 'Amount',
    form,
    required: true,
    unit: show.currency,
    inputmode: 'decimal',
    size: 'short',
  })}
  </div>`,
  other: ({ form, show }) => html`<div class="grid">
  ${field({
    name: 'description',
    label: 'What for',
    form,
    required: true,
    placeholder: 'courier, a second rinse at the laundry',
  })}
  ${field({
    name: 'cost',
    label: 'Cost',
    form,
    required: true,
    unit: show.currency,
    inputmode: 'decimal',
    size: 'short',
  })}
  </div>`,
};

/** A cost that was forgotten when a lot was closed. */
export const additionForm = (p: AdditionFormProps): Html => html`${pageHead({
  title: 'Add a forgotten cost',
  crumb: { href: `/costing/lots/${p.lotId}#lines`, label: `Cost of lot ${p.number}` },
  lead: html`${p.goodsText}. A line of today, with the reason; nothing of the record changes.`,
})}
<nav class="tabs" aria-label="What was forgotten"><ul>${(Object.keys(TABS) as ForgottenKind[]).map(
  (what) =>
    html`<li><a href="/costing/lots/${p.lotId}/additions/new?what=${what}" ${
      what === p.what && html`aria-current="page"`
    }>${TABS[what]}</a></li>`,
)}</ul></nav>
<form method="post" action="/costing/lots/${p.lotId}/additions" class="panel stack">${formNotice(
  p.form,
)}<input type="hidden" name="what" value="${p.what}"><input type="hidden" name="clientId" value="${
  p.form.typed['clientId'] ?? ''
}">
  ${FIELDS[p.what](p)}
  ${field({
    name: 'reason',
    label: 'Why',
    form: p.form,
    required: true,
    size: 'wide',
    placeholder: 'the salt was put in without a note',
  })}
  <p><button class="primary">Add it</button> <a class="button quiet"
    href="/costing/lots/${p.lotId}#lines">Cancel</a></p></form>`;
