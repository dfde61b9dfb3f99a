import { type Html, html } from '../html.ts';
import { badge } from '../kit/pageHead.ts';
import { type Show, when } from '../kit/show.ts';

export interface SignInItem {
  key: string;
  device: string;
  createdAt: number;
  lastSeenAt: number;
  expiresAt: number;
  current: boolean;
}

/** A browser's own long name for itself, cut to what tells one from another. */
const deviceText = (device: string): string => {
  const system = /Android|iPad|iPhone|Windows|Mac OS X|CrOS|Linux/.exec(device)?.[0]?.replace('Mac OS X', 'Mac');
  const browser = /(?:Edg|Firefox|Chrome|Safari)(?=\/)/.exec(device)?.[0]?.replace('Edg', 'Edge');
  return [browser, system].filter(Boolean).join(' on ') || device.slice(0, 60) || 'unknown device';
};

/** Where somebody is signed in, each with a button that ends it. */
export const signInTable = (p: {
  signIns: readonly SignInItem[];
  action: (key: string) => string;
  show: Show;
}): Html =>
  p.signIns.length === 0
    ? html`<p>On no device.</p>`
    : html`<table class="plain shelf"><thead><tr><th scope="col">Device</th><th scope="col">Since</th>
      <th scope="col">Last seen</th><th scope="col">Ends</th><th scope="col"><span
      class="visually-hidden">Do</span></th></tr></thead><tbody>${p.signIns.map(
        (s) =>
          html`<tr><th scope="row">${deviceText(s.device)} ${
            s.current && badge({ label: 'this one', tone: 'good' })
          }</th><td data-label="Since">${when(p.show, s.createdAt)}</td><td data-label="Last seen">${when(
            p.show,
            s.lastSeenAt,
          )}</td><td data-label="Ends">${when(p.show, s.expiresAt)}</td><td>${
            !s.current &&
            html`<form method="post" action="${p.action(s.key)}"><button class="quiet">Sign it out</button></form>`
          }</td></tr>`,
      )}</tbody></table>`;
