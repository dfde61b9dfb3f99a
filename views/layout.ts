import { type Html, html, type Value } from './html.ts';

export type Section =
  | 'today'
  | 'swatches'
  | 'lots'
  | 'orders'
  | 'recipes'
  | 'methods'
  | 'fibres'
  | 'dyes'
  | 'auxiliaries'
  | 'stock'
  | 'costing'
  | 'history'
  | 'settings'
  | 'guide'
  | 'none';

/** The sheets of a section's pages, beside base and kit. A rule that two sections need stands in kit. */
const SHEETS: Partial<Record<Section, readonly string[]>> = {
  today: ['work'],
  lots: ['work', 'bench', 'colour'],
  orders: ['work'],
  swatches: ['library', 'colour'],
  recipes: ['library', 'colour'],
  methods: ['shelf'],
  dyes: ['shelf'],
  auxiliaries: ['shelf'],
  fibres: ['shelf'],
  stock: ['shelf'],
  costing: ['books'],
  history: ['books'],
};

/** What every page knows of its surroundings. */
export interface Surroundings {
  studioName: string;
  personName: string | null;
  role: 'owner' | 'dyer' | 'viewer' | 'bench' | null;
  sample: boolean;
  /** Why nothing can be saved any more; '' while all is well. */
  fault: string;
  /** Where the guide speaks of the page that is shown. */
  guide: { href: string; label: string };
}

export interface PageProps {
  title: string;
  section: Section;
  surroundings: Surroundings;
  /** Extra scripts of this page, by file name in static/. */
  scripts?: readonly string[];
  /** 'bench' drops the navigation: one thing fills the screen. */
  shape?: 'plain' | 'bench' | 'paper' | 'door';
  body: Value;
}

interface NavItem {
  section: Section;
  href: string;
  label: string;
}
const NAV: { group: string; items: NavItem[] }[] = [
  {
    group: 'Work',
    items: [
      { section: 'today', href: '/', label: 'Today' },
      { section: 'swatches', href: '/swatches', label: 'Swatch library' },
      { section: 'lots', href: '/lots', label: 'Production log' },
      { section: 'orders', href: '/orders', label: 'Orders' },
    ],
  },
  {
    group: 'Formulas',
    items: [
      { section: 'recipes', href: '/recipes', label: 'Recipes' },
      { section: 'methods', href: '/methods', label: 'Methods' },
    ],
  },
  {
    group: 'Shelf',
    items: [
      { section: 'dyes', href: '/dyes', label: 'Dyes' },
      { section: 'auxiliaries', href: '/auxiliaries', label: 'Auxiliaries' },
      { section: 'fibres', href: '/fibres', label: 'Fibres' },
      { section: 'stock', href: '/stock', label: 'Stock' },
    ],
  },
  {
    group: 'Books',
    items: [
      { section: 'costing', href: '/costing', label: 'Costing' },
      { section: 'history', href: '/history', label: 'Batch history' },
      { section: 'settings', href: '/settings', label: 'Settings' },
    ],
  },
];

const navLink = (item: NavItem, current: Section): Html =>
  html`<li><a href="${item.href}" ${item.section === current ? html`aria-current="page"` : ''}>${item.label}</a></li>`;

const navigation = (current: Section, s: Surroundings): Html => html`<header class="mast">
  <a class="mast-name" href="/"><svg class="mark" viewBox="0 0 24 24" aria-hidden="true"><path d="M4 3h12l4 4v14H4z"
    /><circle cx="15.5" cy="7.5" r="1.6" /></svg><span>${s.studioName}</span></a>
  <details class="menu"><summary><span>Menu</span></summary>
    <nav aria-label="Main">${NAV.map(
      (g) => html`<section><h2>${g.group}</h2><ul>${g.items.map((i) => navLink(i, current))}</ul></section>`,
    )}
    <form class="sign-out" method="post" action="/sign-out"><a href="/guide" ${
      current === 'guide' && html`aria-current="page"`
    }>Guide</a><a href="/account">${s.personName}</a><button class="quiet">Sign out</button></form></nav>
  </details>
</header>`;

/** The way to the guide’s words on this screen: in a tab of its own, since a form half filled in must not be left. */
const guideLink = ({ href, label }: Surroundings['guide']): Html =>
  html`<nav class="guide-way" aria-label="Guide"><a class="guide-link" href="${href}" target="lot-and-shade-guide"
    title="${label}" aria-label="${label}">?</a></nav>`;

/** On every page, whatever its shape, for as long as the service runs on. */
const faultNotice = (words: string): Html =>
  html`<section class="notice bad fault-note" role="alert"><b>Nothing can be saved any more.</b> ${words} What can be
    read is still shown. Write on paper meanwhile, and tell whoever looks after the studio’s computer.</section>`;

/** A whole page. The fragment that a partial request gets is `body` or a piece of it, by the same function. */
export function page(props: PageProps): Html {
  const { surroundings: s, shape = 'plain' } = props;
  const signedIn = s.personName !== null && shape !== 'door';
  // Bench and paper show one thing; the way back is on them.
  const framed = signedIn && shape === 'plain';
  return html`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta name="htmx-config" content='{"noSwap":[204,304,"5xx"],"defaultTimeout":120000}'>
<title>${props.title} · ${s.studioName}</title>
<link rel="icon" href="/static/mark.svg" type="image/svg+xml">
${['base', 'kit', ...(SHEETS[props.section] ?? [])].map(
  (name) => html`<link rel="stylesheet" href="/static/${name}.css">
`,
)}
<script src="/static/vendor/htmx.min.js" defer></script>
<script src="/static/app.js" type="module"></script>
${(props.scripts ?? []).map((name) => html`<script src="/static/${name}" type="module"></script>`)}
</head>
<body class="shape-${shape}">
<a class="skip" href="#main">Skip to content</a>
${framed && navigation(props.section, s)}
${signedIn && props.section !== 'guide' && guideLink(s.guide)}
<main id="main" tabindex="-1">
${s.fault !== '' && faultNotice(s.fault)}
${framed && s.sample && html`<p class="sample-note">Sample studio: everybody and everything here is invented.</p>`}
${props.body}
</main>
</body>
</html>`;
}
