// The line to the studio's computer: what others did is heard by it, and whether it stands is known within five seconds. The
// stream says "here" every two seconds; where it falls silent, the computer is asked. A socket can be dead for minutes before
// a browser says so, and one that is refused comes back by itself without telling.

/** Longer than the stream's own beat (server/http/live.ts). */
const SILENT_MS = 2200;
const ASK_MS = 2000;
const LOOK_MS = 250;
/** A stream that was refused (too many listeners, signed out) or has fallen silent is tried again after so long. */
const AGAIN_MS = 10_000;

/** Whether the studio's computer itself answers, and not a stranger in its place, as hotel networks do. */
export async function answers(waitMs = ASK_MS) {
  const giveUp = new AbortController();
  const timer = setTimeout(() => giveUp.abort(), waitMs);
  try {
    const answer = await fetch('/healthz', { cache: 'no-store', signal: giveUp.signal });
    return answer.ok && (await answer.json()).alive === true;
  } catch {
    return false;
  } finally {
    clearTimeout(timer);
  }
}

/** Follows a stream of events. `onNews` hears its events, `onOpen` and `onLost` what is known of the line each time that it
 *  is known, and `onBlind` that the stream is tried anew, so that news may have been missed. Not while the page is out of
 *  sight: browsers give few connections to one address. */
export function followLine({ address, onNews, onOpen, onLost, onBlind }) {
  let stream = null;
  let openedAt = 0;
  let streamHeardAt = 0;
  let heardAt = performance.now();
  let asking = false;

  const heard = () => {
    heardAt = performance.now();
    onOpen();
  };
  const heardStream = () => {
    streamHeardAt = performance.now();
    heard();
  };
  const stop = () => {
    stream?.close();
    stream = null;
  };
  const listen = () => {
    if (stream || document.hidden) return;
    openedAt = performance.now();
    streamHeardAt = openedAt;
    const own = new EventSource(address);
    stream = own;
    own.addEventListener('open', heardStream);
    own.addEventListener('beat', heardStream);
    own.addEventListener('entry', (event) => {
      heardStream();
      onNews(Number(event.data));
    });
    own.addEventListener('error', () => own === stream && ask());
  };

  /** Asks at once, and says what came of it. */
  async function ask() {
    if (asking || document.hidden) return;
    asking = true;
    const there = await answers();
    asking = false;
    if (document.hidden) return;
    if (there) {
      // After a silence the stream may hang on a socket that is dead.
      const now = performance.now();
      if (now - streamHeardAt > AGAIN_MS && now - openedAt > AGAIN_MS) {
        stop();
        onBlind();
        listen();
      }
      if (!stream) listen();
      heard();
    } else {
      heardAt = performance.now();
      onLost();
    }
  }

  setInterval(() => {
    if (!document.hidden && performance.now() - heardAt > SILENT_MS) ask();
  }, LOOK_MS);
  document.addEventListener('visibilitychange', () => {
    heardAt = performance.now();
    if (document.hidden) stop();
    else listen();
  });
  addEventListener('pagehide', stop);
  return { listen, stop, ask };
}
