import type { SamplingKind } from '../../server/sampling/schemas.ts';
import { type Html, html } from '../html.ts';
import { badge, emptyState, pageHead, pager } from '../kit/pageHead.ts';
import { type Show, when } from '../kit/show.ts';

export const KIND_WORDS: Readonly<Record<SamplingKind, string>> = {
  depthLadder: 'depth ladder',
  blendLadder: 'blend ladder of two dyes',
  triangle: 'triangle of three dyes',
  recipes: 'chosen recipes',
};

export interface SamplingListProps {
  plans: readonly {
    planId: number;
    name: string;
    kind: SamplingKind;
    fibreName: string;
    methodName: string;
    pieces: number;
    read: number;
    kept: number;
    madeAt: number;
  }[];
  nextHref: string | null;
  firstHref: string | null;
  mayWork: boolean;
  show: Show;
}

const state = (p: SamplingListProps['plans'][number]): Html =>
  p.kept === p.pieces
    ? badge({ label: 'all in the library', tone: 'good' })
    : p.read > p.kept
      ? badge({ label: `${p.read - p.kept} read, to be kept`, tone: 'warn' })
      : p.kept > 0
        ? badge({ label: `${p.kept} of ${p.pieces} in the library`, tone: 'busy' })
        : badge({ label: 'to be dyed and read', tone: 'plain' });

/** Sets of samples, planned and read. */
export const samplingListPage = (p: SamplingListProps): Html =>
  html`${pageHead({
    title: 'Sampling',
    crumb: { href: '/swatches', label: 'Swatch library' },
    lead: 'Many small pieces at once, by stock solution, and their colours into the library.',
    actions: html`${
      p.mayWork && html`<a class="button primary" href="/sampling/new">Plan samples</a>`
    }<a class="button" href="/sampling/next">What to sample next</a><a class="button" href="/colour/map">Library
      map</a>`,
  })}
${
  p.plans.length === 0
    ? emptyState({
        title: 'No set was planned yet',
        words: 'Begin with a depth ladder of each dye on the cloth you dye most, then blends of the pairs you use.',
        ...(p.mayWork ? { action: { href: '/sampling/new', label: 'Plan samples' } } : {}),
      })
    : html`<section class="panel"><ul class="plain-list">${p.plans.map(
        (s) =>
          html`<li class="list-row"><span class="grow"><a href="/sampling/${s.planId}"><b>${s.name}</b></a> <span
            class="fine">${KIND_WORDS[s.kind]}, ${s.pieces} ${
              s.pieces === 1 ? 'piece' : 'pieces'
            } on ${s.fibreName}, ${s.methodName} · ${when(p.show, s.madeAt)}</span></span>${state(s)}</li>`,
      )}</ul></section>${pager(p)}`
}`;
