// The worker of benches where the browser wakes it when the network is back (Background Synchronization): it sends what waits
// on this device after the page was closed, by the page's own outbox. Browsers without that register sw.js alone.
import './sw.js';
import * as outbox from './outbox.js';

self.addEventListener('sync', (event) => {
  if (event.tag !== outbox.SYNC_TAG) return;
  event.waitUntil(
    outbox.flush().then((outcome) => {
      // Refused once more by the network: the browser tries again by itself, some time later.
      if (outcome === 'away') throw new Error('The studio’s computer cannot be reached.');
    }),
  );
});
