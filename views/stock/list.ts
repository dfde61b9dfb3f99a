import type { StockLot } from '../../server/stock/schemas.ts';
import { type Html, html } from '../html.ts';
import { type ContainerItem, containerTable, shelfValueMinor } from '../kit/containers.ts';
import { emptyState, pageHead, pager } from '../kit/pageHead.ts';
import { money, type Show } from '../kit/show.ts';

type StockKind = StockLot['kind'];
export type StockItemOfList = ContainerItem &
  Pick<StockLot, 'kind' | 'dyeId' | 'auxiliaryId' | 'fibreId' | 'itemName'> & { shownHex: string | null };

export const kindWords: Record<StockKind, string> = { dye: 'Dyes', auxiliary: 'Auxiliaries', fibre: 'Goods' };

export const itemHref = (c: Pick<StockItemOfList, 'dyeId' | 'auxiliaryId' | 'fibreId'>): string =>
  c.dyeId !== null
    ? `/dyes/${c.dyeId}`
    : c.auxiliaryId !== null
      ? `/auxiliaries/${c.auxiliaryId}`
      : `/fibres/${c.fibreId}`;

const itemLink = (c: StockItemOfList): Html => html`<a class="quiet-link" href="${itemHref(c)}">${c.itemName}</a>`;

/** Every container on the shelf, by kind. */
export const stockPage = (props: {
  containers: readonly StockItemOfList[];
  kind: StockKind | null;
  item: { key: string; name: string } | null;
  closed: boolean;
  nextHref: string | null;
  mayWork: boolean;
  show: Show;
  todayOn: string;
}): Html => {
  const { kind, closed, show } = props;
  const href = (to: { kind?: StockKind | null; closed?: boolean }): string => {
    const query = new URLSearchParams();
    const k = to.kind === undefined ? kind : to.kind;
    if (k) query.set('kind', k);
    if (props.item) query.set('item', props.item.key);
    if (to.closed ?? closed) query.set('closed', 'yes');
    const text = query.toString();
    return text ? `/stock?${text}` : '/stock';
  };
  const tab = (k: StockKind | null, label: string): Html =>
    html`<a href="${href({ kind: k })}" ${k === kind && html`aria-current="true"`}>${label}</a>`;
  const kinds = (['dye', 'auxiliary', 'fibre'] as const).filter((k) => props.containers.some((c) => c.kind === k));
  return html`${pageHead({
    title: props.item ? `Stock: ${props.item.name}` : 'Stock',
    lead: closed
      ? 'Closed containers. Their ledgers stay.'
      : 'Every open container, what it holds by its ledger, and what that cost.',
    actions: html`<a class="button" href="/stock/shopping">Shopping list</a>${
      props.mayWork &&
      html`<a class="button primary" href="/stock/new${
        props.item && `?item=${props.item.key}`
      }">Receive a container</a>`
    }`,
  })}
<nav class="shelf-tabs" aria-label="Kinds of stock">${
    !props.item &&
    html`${tab(null, 'All')}${tab('dye', 'Dyes')}${tab('auxiliary', 'Auxiliaries')}${tab('fibre', 'Goods')}`
  }
<a class="aside" href="${href({
    closed: !closed,
  })}">${closed ? 'Show open containers' : 'Show closed containers'}</a></nav>
${
  props.containers.length === 0
    ? emptyState(
        closed
          ? { title: 'None closed', words: 'A container is closed when it is empty or thrown away.' }
          : {
              title: 'The shelf is empty',
              words:
                'Receive a container with its price, freight and maker’s lot number. From then on every weighing draws it down, and every cost follows from it.',
              ...(props.mayWork ? { action: { href: '/stock/new', label: 'Receive a container' } } : {}),
            },
      )
    : kinds.map((k) => {
        const list = props.containers.filter((c) => c.kind === k);
        return html`<section><div class="shelf-head"><h2>${kindWords[k]}</h2><p class="fine">${list.length}
          ${list.length === 1 ? 'container' : 'containers'}${
            !closed && ` · ${money(show, shelfValueMinor(list))}`
          }</p></div>
${containerTable({
  containers: list,
  show,
  todayOn: props.todayOn,
  caption: `Containers: ${kindWords[k]}`,
  item: itemLink,
  hexOf: (c) => c.shownHex,
})}</section>`;
      })
}
${pager({ nextHref: props.nextHref, firstHref: null })}`;
};
