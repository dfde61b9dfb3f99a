import { type Html, html } from '../html.ts';
import { type FormState, field, formNotice, type Typed, textArea } from '../kit/field.ts';
import { otherVersion } from '../kit/otherVersion.ts';
import { pageHead } from '../kit/pageHead.ts';

export const customerForm = (props: {
  form: FormState;
  customerId: number | null;
  name: string | null;
  current: Typed | null;
}): Html => {
  const { form, customerId } = props;
  return html`${pageHead({
    title: props.name ?? 'New customer',
    crumb:
      customerId === null
        ? { href: '/customers', label: 'Customers' }
        : { href: `/customers/${customerId}`, label: props.name ?? '' },
  })}
${
  props.current &&
  otherVersion({
    typed: form.typed,
    current: props.current,
    labels: { name: 'Name', contact: 'Contact', note: 'Note' },
  })
}
<form method="post" action="${customerId === null ? '/customers' : `/customers/${customerId}`}"
  class="panel stack">${formNotice(form)}
  <input type="hidden" name="version" value="${props.current?.['version'] ?? ''}">
  ${field({ name: 'name', label: 'Name', form, required: true, autofocus: customerId === null })}
  ${field({ name: 'contact', label: 'Contact', form, hint: 'As you would write it on the parcel or dial it.' })}
  ${textArea({ name: 'note', label: 'Note', form })}
  <p class="actions"><button class="primary">Save</button></p></form>`;
};
