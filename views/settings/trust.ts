import { type Html, html } from '../html.ts';
import { fact, pageHead } from '../kit/pageHead.ts';
import { day } from '../kit/show.ts';

export interface TrustProps {
  served: 'plain' | 'studio' | 'files' | 'proxy';
  /** Whether this very page came over https. */
  secureNow: boolean;
  /** The studio's own certificate authority, when it is the one that vouches. */
  authority: { name: string; fingerprint: string; until: string } | null;
}

const why = html`<p>Browsers let a page work without network, use the microphone and keep the screen awake only over a
  secure connection that they trust. Without it the bench still keeps what it cannot send, as long as its page stays
  open.</p>`;

const devices = html`<h3>iPhone and iPad</h3>
  <ol><li>Open this page in Safari and tap the download above; allow the profile.</li>
  <li>Settings › General › VPN &amp; Device Management: tap the profile, compare the name, Install.</li>
  <li>Settings › General › About › Certificate Trust Settings: switch it on.</li></ol>
  <h3>Android</h3>
  <ol><li>Tap the download above.</li>
  <li>Settings › Security (and privacy) › Encryption and credentials › Install a certificate › CA certificate; take the
    downloaded file. The names of the steps differ a little between makers; searching the settings for “CA
    certificate” finds it.</li></ol>
  <h3>Windows</h3>
  <ol><li>Open the downloaded file, Install certificate, Current user.</li>
  <li>“Place all certificates in the following store”: Trusted Root Certification Authorities.</li></ol>
  <h3>macOS</h3>
  <ol><li>Open the downloaded file: it appears in Keychain Access, login.</li>
  <li>Double-click it; Trust › When using this certificate: Always trust.</li></ol>
  <h3>Firefox, and Linux</h3>
  <ol><li>Settings › Privacy and security › Certificates › View certificates › Authorities › Import; tick “identify
    websites”.</li></ol>
  <p>Then open the studio’s https address again. Taking the certificate out at the same place ends the trust.</p>`;

const studioPart = (
  a: NonNullable<TrustProps['authority']>,
): Html => html`<section class="panel"><h2>Trust this studio on a device</h2>
  <p>This studio makes its own certificate. A device that knows the studio’s authority trusts it; every other warns. It
    is needed once for each device.</p>
  <p><a class="button primary" href="/trust/studio-authority.crt">Download the studio’s certificate</a></p>
  <dl class="figures">${fact('Name', a.name)}${fact('Good until', day(a.until))}${fact(
    'Fingerprint (SHA-256)',
    html`<code class="token">${a.fingerprint}</code>`,
  )}</dl>
  <p>The terminal where the service was started shows the same fingerprint: compare them before you trust.</p>
  ${devices}
  <h3>What this trust reaches</h3>
  <p>The authority can vouch only for addresses of private networks, for local names and for this computer’s own name.
    It cannot pass for any other site, even if its key were stolen. Its key lies in the data folder under
    <code>tls</code>; whoever copies that folder can pass for this studio.</p></section>`;

/** Why a secure connection, which one this studio has, and what a device needs to trust it. */
export const trustPage = (p: TrustProps): Html => html`${pageHead({
  title: 'Secure connection',
  crumb: { href: '/settings', label: 'Settings' },
})}
<section class="panel"><h2>What it is for</h2>${why}
  <p>${
    p.served === 'plain'
      ? 'This studio is served over plain http.'
      : p.served === 'studio'
        ? 'This studio is served over https with a certificate of its own making.'
        : p.served === 'files'
          ? 'This studio is served over https with the certificate that TLS_CERT names; ' +
            'whether devices trust it is a matter of who issued it.'
          : 'A proxy in front of this studio serves it over https; its certificate is the proxy’s.'
  }${
    p.served === 'studio' &&
    !p.secureNow &&
    ' This page came over plain http, so that a device can read it before it trusts.'
  }</p>
  ${
    p.served === 'plain' &&
    html`<h3>To switch it on</h3><p>Start the service with <code>TLS=studio</code>. It makes a certificate for this
      computer’s addresses, and this page then tells how a phone comes to trust it. With a certificate from
      elsewhere, set <code>TLS_CERT</code> and <code>TLS_KEY</code> to its files. Old http addresses, on labels too,
      lead to the new ones.</p>`
  }
</section>
${p.authority && studioPart(p.authority)}`;
