import { expect, test } from 'vitest';
import { z } from 'zod';
import { readInput } from '../../server/http/forms.ts';
import { validatorCompiler } from '../../server/http/validator.ts';
import { freshSampleStudio } from '../support/sampleStudio.ts';

/** About 2^53, where a number is no longer itself, and far beyond. */
const HUGE = [2 ** 53 - 1, 2 ** 53, -(2 ** 53) + 1, 1e13 + 1, 1e300];

test.each(HUGE)('%d is refused under its own name wherever it stands, whatever the schema lets through', (huge) => {
  const schema = z.object({ lines: z.array(z.object({ massMg: z.number() })), at: z.number().optional() });
  const validate = validatorCompiler({ schema, url: '/api/v1/x', method: 'POST', httpPart: 'body' });
  const refused = validate({ lines: [{ massMg: 1 }, { massMg: huge }] }) as { error?: { fields: unknown } };
  expect(refused.error?.fields).toEqual({ 'lines.1.massMg': 'At most 10 000 000 000 000.' });
  expect(() => readInput(schema, { lines: [], at: huge })).toThrow(
    expect.objectContaining({ code: 'invalidInput', fields: { at: 'At most 10 000 000 000 000.' } }),
  );
  // An instant of today is far below.
  expect(readInput(schema, { lines: [], at: 1_796_000_000_000 })).toEqual({ lines: [], at: 1_796_000_000_000 });
});

interface Document {
  paths: Record<string, Record<string, { parameters?: { name: string; in: string; schema: { type?: string } }[] }>>;
}

test('a quote, and whatever else takes a number in its address, refuses one near 2^53 in words and by its name', async () => {
  const { app, api, page } = await freshSampleStudio();
  const terms = 'basis=markup&pct=60';
  const orders = (await api.get('/orders')).body.orders as { orderId: number }[];
  const order = orders.at(-1)?.orderId ?? 0;
  for (const huge of ['9007199254740991', '9007199254740993', '1000000000001']) {
    for (const name of ['setUpMinor', 'minimumMinor']) {
      const refused = await api.get(`/orders/${order}/quote?${terms}&${name}=${huge}`);
      expect([refused.status, Object.keys(refused.body.fields)], `${name}=${huge}`).toEqual([422, [name]]);
    }
    const typed = await page.get(`/orders/${order}/quote?${terms}&setUp=${huge}&minimum=`);
    expect(typed.status).toBe(422);
    expect(typed.text).toContain('field-error');
    expect((await page.get(`/orders/${order}/quote/paper?${terms}&setUp=&minimum=${huge}`)).status).toBe(422);
  }
  // The most that is let through is worked out.
  expect(
    (await api.get(`/orders/${order}/quote?${terms}&setUpMinor=1000000000000&minimumMinor=1000000000000`)).status,
  ).toBe(200);

  const document: Document = (await app.inject({ url: '/api/v1/openapi.json' })).json();
  let tried = 0;
  for (const [path, methods] of Object.entries(document.paths)) {
    for (const { name, in: place } of methods['get']?.parameters ?? []) {
      const url = path.replace(/\{\w+\}/g, '1').replace(/^\/api\/v1/, '');
      for (const huge of ['9007199254740991', '9007199254740993', '1e300', '-9007199254740993']) {
        if (place !== 'query') continue;
        const answer = await api.get(`${url}?${name}=${huge}`);
        expect(answer.status, `${url}?${name}=${huge}: ${answer.text?.slice(0, 200)}`).toBeLessThan(500);
        tried++;
      }
    }
  }
  expect(tried).toBeGreaterThan(100);
}, 600_000);
