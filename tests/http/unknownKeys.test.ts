import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { unknownKeys } from '../../server/http/unknownKeys.ts';
import { freshStudio } from '../support/app.ts';

describe('what the API does not know is refused by name, and nothing is saved', () => {
  const fibre = { name: 'Hemp, 300 g', class: 'cellulose', kind: 'cloth' };

  test('a misspelt key, with the one that was meant', async () => {
    const studio = await freshStudio();
    const { nmae, ...rest } = { ...fibre, nmae: 'Hemp, 300 g' };
    const answer = await studio.api.post('/fibres', { ...rest, name: 'Hemp', nmae });
    expect([answer.status, answer.body.code]).toEqual([422, 'invalidInput']);
    expect(answer.body.fields).toEqual({ nmae: '“nmae” is not known here; did you mean “name”?' });
    expect((await studio.api.get('/fibres')).body.fibres).toEqual([]);
  });

  test('beside what is missing or wrong, in one answer', async () => {
    const studio = await freshStudio();
    const answer = await studio.api.post('/fibres', {
      nmae: 'Hemp',
      class: 'celulose',
      kind: 'cloth',
      widthMm: '1400',
    });
    expect(Object.keys(answer.body.fields).toSorted()).toEqual(['class', 'name', 'nmae', 'widthMm']);
    expect(answer.body.fields.widthMm).toBe('Must be a number, not text.');
  });

  test('a key within a list, under its path', async () => {
    const studio = await freshStudio();
    const customerId = (await studio.api.post('/customers', { name: 'The Long Table' })).body.customerId;
    const lines = [{ description: 'napkins', pices: 24 }];
    const answer = await studio.api.post('/orders', { customerId, orderedOn: '2026-03-02', lines });
    expect(answer.body.fields).toEqual({ 'lines.0.pices': '“pices” is not known here; did you mean “pieces”?' });
  });

  test.each([
    ['/fibres?fibreId=3', 'fibreId'],
    ['/lots?status=planned&fiberId=3', 'fiberId'],
    ['/swatches?word=red', 'word'],
    ['/today?from=2026-01-01', 'from'],
  ])('a query that would answer as if nothing had been asked: %s', async (path, name) => {
    const studio = await freshStudio();
    const answer = await studio.api.get(path);
    expect([answer.status, Object.keys(answer.body.fields)]).toEqual([422, [name]]);
  });

  test('a body where none is taken, and words beside a file', async () => {
    const studio = await freshStudio();
    const added = (await studio.api.post('/customers', { name: 'Indigo Lane' })).body;
    const archived = await studio.api.post(`/customers/${added.customerId}/archiving`, { reason: 'moved away' });
    expect([archived.status, archived.body.fields]).toEqual([422, { reason: 'Nothing of that name is taken here.' }]);
    expect((await studio.api.post(`/customers/${added.customerId}/archiving`, {})).status).toBe(200);
  });
});

describe('the keys of a schema', () => {
  const shape = z.discriminatedUnion('kind', [
    z.object({ kind: z.literal('dry'), massMg: z.number() }),
    z.object({ kind: z.literal('damp'), waterPpm: z.number() }),
  ]);

  test('of one of several shapes are those of the shape that was sent', () => {
    expect(unknownKeys(shape, { kind: 'dry', massMg: 1 })).toEqual({});
    expect(Object.keys(unknownKeys(shape, { kind: 'dry', massMg: 1, waterPpm: 3 }))).toEqual(['waterPpm']);
  });

  test('are found through lists, optional parts and records; an open object takes what it likes', () => {
    const nested = z.object({ list: z.array(shape).optional(), by: z.record(z.string(), z.object({ a: z.number() })) });
    const sent = { list: [{ kind: 'damp', waterPpm: 1, x: 1 }], by: { one: { a: 1, b: 2 } } };
    expect(Object.keys(unknownKeys(nested, sent))).toEqual(['list.0.x', 'by.one.b']);
    expect(unknownKeys(z.looseObject({ a: z.number() }), { a: 1, more: 2 })).toEqual({});
  });

  test('a name that is like none is not guessed at', () => {
    expect(unknownKeys(z.object({ massMg: z.number() }), { colour: 1 })).toEqual({
      colour: '“colour” is not known here.',
    });
  });
});
