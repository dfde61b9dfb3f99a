import { type Html, html, type Value } from '../html.ts';

export interface BenchFormProps {
  lotId: number;
  order: string;
  /** An id for the form, so that sending it twice records once; the forms are told apart by their address and `key`. */
  newId: (form: string) => string;
}

/** A form of the bench. It works by itself; static/bench.js sends it by way of the device's outbox. `words` is how
 *  an entry that waits there is called. */
export const benchForm = (
  p: BenchFormProps,
  path: string,
  inside: Value,
  more: { className?: string; multipart?: boolean; words?: string; key?: string | number } = {},
): Html =>
  html`<form method="post" action="/lots/${p.lotId}/${path}" class="${more.className ?? ''}" ${
    more.multipart && html`enctype="multipart/form-data"`
  } ${more.words && html`data-words="${more.words}"`}>
  <input type="hidden" name="clientId" value="${p.newId(
    more.key === undefined ? path : `${path} ${more.key}`,
  )}"><input type="hidden" name="order" value="${p.order}">${inside}</form>`;
