import type { ServerResponse } from 'node:http';
import type { FastifyInstance, FastifyReply } from 'fastify';
import { Refusal } from '../errors.ts';

/** Server-sent events (WHATWG HTML, §9.2) to the open pages of this process. An event says only that something is new,
 *  never what: the page then asks for it through the guarded door, so that nothing here needs a right of its own. */
export interface Live {
  /** Turns the answer into a stream of `room`'s events. `newest` goes out at once, so that what happened between the
   *  making of the page and this connection, or while the connection was lost, is not missed. */
  follow: (reply: FastifyReply, who: Listener) => void;
  /** Tells those in a room, unless they have been told as much already. */
  tell: (room: string, newest: number) => void;
  /** The rooms in which somebody would hear. */
  rooms: () => string[];
}

interface Listener {
  room: string;
  personId: number;
  newest: number;
  /** Asked at every beat and before every event: a stream ends with the sign-in that opened it. */
  stillMay: () => boolean;
}

interface Follower {
  room: string;
  personId: number;
  told: number;
  stillMay: () => boolean;
  stream: ServerResponse;
}

/** A stream costs a socket; a studio has a handful of tablets. Beyond this, pages ask now and then instead. */
const MAX_STREAMS = 200;
const MAX_STREAMS_A_PERSON = 12;
/** Keeps routers from closing a silent connection, and finds the dead ones. A page says within five seconds that the line is
 *  lost (static/line.js), which takes a beat that it can hear; a comment of the stream is none. */
const HEARTBEAT_MS = 2000;
/** A reader that takes nothing for so many bytes is gone. */
const MAX_WAITING_BYTES = 65_536;

export function openLive(app: FastifyInstance): Live {
  const followers = new Set<Follower>();

  const send = (f: Follower, text: string): void => {
    if (!f.stillMay()) {
      followers.delete(f);
      f.stream.end();
    } else if (f.stream.writableLength > MAX_WAITING_BYTES) f.stream.destroy();
    else f.stream.write(text);
  };
  const event = (newest: number): string => `id: ${newest}\nevent: entry\ndata: ${newest}\n\n`;

  let heartbeat: NodeJS.Timeout | undefined;
  const beat = (): void => {
    heartbeat ??= setInterval(() => {
      for (const f of followers) send(f, 'event: beat\ndata: here\n\n');
    }, HEARTBEAT_MS).unref();
  };

  // An open stream would hold the closing server for ever.
  app.addHook('preClose', async () => {
    clearInterval(heartbeat);
    for (const f of followers) f.stream.end();
    followers.clear();
  });

  return {
    rooms: () => [...new Set([...followers].map((f) => f.room))],
    follow(reply, { room, personId, newest, stillMay }) {
      const head = {
        'content-type': 'text/event-stream; charset=utf-8',
        'cache-control': 'no-store',
        'x-accel-buffering': 'no',
      };
      // Who only asks what it would be is told so, and nothing is kept open.
      if (reply.request.method === 'HEAD') {
        reply.headers(head).send();
        return;
      }
      const own = [...followers].filter((f) => f.personId === personId).length;
      if (followers.size >= MAX_STREAMS || own >= MAX_STREAMS_A_PERSON)
        throw new Refusal('busy', 'Too many pages are listening at once; this one asks now and then instead.');
      reply.hijack();
      const stream = reply.raw;
      stream.writeHead(200, { ...head, connection: 'close' });
      const follower = { room, personId, told: newest, stillMay, stream };
      followers.add(follower);
      stream.on('close', () => followers.delete(follower));
      stream.on('error', () => followers.delete(follower));
      send(follower, `retry: 2000\n\n${event(newest)}`);
      beat();
    },
    tell(room, newest) {
      for (const f of followers) {
        if (f.room !== room || f.told >= newest) continue;
        f.told = newest;
        send(f, event(newest));
      }
    },
  };
}
