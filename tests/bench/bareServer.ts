import type { AddressInfo } from 'node:net';
import Fastify from 'fastify';

/* The floor of a page: the framework answering the same string, nothing read, nothing made. */
const app = Fastify();
const page = `<!doctype html><title>bare</title>${'<p>The quick brown fox dyes the lazy hank.</p>'.repeat(650)}`;
app.get('/page', (_request, reply) => {
  reply.type('text/html').send(page);
});
await app.listen({ host: '127.0.0.1', port: 0 });
process.send?.(`http://127.0.0.1:${(app.server.address() as AddressInfo).port}`);
