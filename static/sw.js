// Opens a bench without network. It keeps two things and nothing else: the pages of benches that were opened, and the
// files that they are made of. What is done on them waits in the outbox of the page, not here.

const VERSION = '1';
const PAGES = `bench-pages-${VERSION}`;
const ASSETS = `bench-assets-${VERSION}`;
/** A network that is there but does not answer is as good as none. */
const PATIENCE_MS = 4000;

const isBench = (url) => /^\/lots\/\d+\/bench$/.test(url.pathname);

self.addEventListener('install', () => self.skipWaiting());
self.addEventListener('activate', (event) => {
  event.waitUntil(
    (async () => {
      for (const name of await caches.keys())
        if (name.startsWith('bench-') && name !== PAGES && name !== ASSETS) await caches.delete(name);
      await self.clients.claim();
    })(),
  );
});

/** Stores a bench page, marked as this device's copy so that it can say so. */
async function storePage(path, answer) {
  const html = await answer.text();
  const cache = await caches.open(PAGES);
  if (!html.includes('<div id="bench"')) return false;
  const marked = html.replace('<div id="bench"', '<div id="bench" data-kept-copy');
  const headers = new Headers(answer.headers);
  for (const name of ['content-encoding', 'content-length', 'etag', 'set-cookie']) headers.delete(name);
  await cache.put(path, new Response(marked, { status: 200, headers }));
  return true;
}

/** Fetches the page of a bench as it is now. A redirect means that it is none any more: finished, or nobody signed in. */
async function keep({ path, assets }) {
  const answer = await fetch(path, { credentials: 'same-origin', headers: { accept: 'text/html' } });
  if (answer.redirected || !answer.ok) {
    if (new URL(answer.url).pathname === '/sign-in') await caches.delete(PAGES);
    else await (await caches.open(PAGES)).delete(path);
    return false;
  }
  const stored = await storePage(path, answer);
  const cache = await caches.open(ASSETS);
  await Promise.all(
    assets.map(async (address) => {
      if (await cache.match(address)) return;
      const file = await fetch(address);
      if (file.ok) await cache.put(address, file);
    }),
  );
  return stored;
}

self.addEventListener('message', (event) => {
  if (event.data?.kind !== 'keep') return;
  event.waitUntil(
    keep(event.data)
      .catch((error) =>
        // Without room not all of its files are here, and the page must not promise to open again.
        error.name === 'QuotaExceededError' ? false : caches.match(event.data.path, { cacheName: PAGES }).then(Boolean),
      )
      .then((ok) => event.source?.postMessage({ kind: 'kept', path: event.data.path, ok })),
  );
});

async function benchPage(event, url) {
  const cached = await caches.match(url.pathname, { cacheName: PAGES });
  const asked = fetch(event.request).then((answer) => {
    if (answer.ok) event.waitUntil(storePage(url.pathname, answer.clone()));
    // A bench that leads elsewhere is none any more.
    else if (answer.type === 'opaqueredirect')
      event.waitUntil(caches.open(PAGES).then((cache) => cache.delete(url.pathname)));
    return answer;
  });
  event.waitUntil(asked.catch(() => undefined));
  if (!cached) return asked.catch(() => away());
  const impatient = new Promise((resolve) => setTimeout(resolve, PATIENCE_MS, cached));
  return Promise.race([asked, impatient]).catch(() => cached);
}

/** The files of a page that is open: the network's when it answers, this device's otherwise. */
async function asset(event) {
  const cache = await caches.open(ASSETS);
  try {
    const answer = await fetch(event.request);
    if (answer.ok) event.waitUntil(cache.put(event.request, answer.clone()));
    return answer;
  } catch (error) {
    const cached = await cache.match(event.request);
    if (cached) return cached;
    throw error;
  }
}

/** Other pages need the network; the benches that are here are named instead. */
async function away() {
  const pages = await caches.open(PAGES);
  const links = [];
  for (const request of await pages.keys()) {
    const html = await (await pages.match(request)).text();
    const number = /data-number="([^"<>&]*)"/.exec(html)?.[1] ?? '';
    links.push(`<li><a href="${new URL(request.url).pathname}">Bench of lot ${number}</a></li>`);
  }
  const body = `<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark"><title>No connection</title><link rel="stylesheet" href="/static/base.css"><link rel="stylesheet" href="/static/kit.css"></head>
<body class="shape-door"><main><section class="door"><h1>The studio’s computer cannot be reached</h1>
${links.length > 0 ? `<p>These work without it, on this device:</p><ul>${links.join('')}</ul>` : '<p>No bench was opened on this device yet.</p>'}
</section></main></body></html>`;
  return new Response(body, {
    status: 503,
    headers: {
      'content-type': 'text/html; charset=utf-8',
      'content-security-policy': "default-src 'self'; script-src 'none'; object-src 'none'; base-uri 'none'",
    },
  });
}

self.addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== self.location.origin) return;
  if (request.mode === 'navigate') {
    event.respondWith(isBench(url) ? benchPage(event, url) : fetch(request).catch(() => away()));
  } else if (url.pathname.startsWith('/static/')) event.respondWith(asset(event));
});
