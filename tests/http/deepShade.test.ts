import { describe, expect, test } from 'vitest';
import { freshStudio } from '../support/app.ts';
import { makeWorld } from '../support/world.ts';

/* 20 % for 2 %: a decimal point that slipped ruins goods and empties a jar. It is asked about once, and never refused for good. */

async function studioWithDyes() {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  return { ...studio, w };
}

describe('a depth beyond what a dye takes', () => {
  const recipe = (blue: number, depthPpm: number) => ({
    name: 'Ink',
    dyeClass: 'reactive',
    entryStyle: 'ownDepths',
    components: [{ dyeId: blue, depthPpm }],
  });

  test('is asked about in a recipe by the API, and kept once it is confirmed', async () => {
    const { api, w } = await studioWithDyes();
    const refused = await api.post('/recipes', recipe(w.dyeIds.blue, 200_000));
    expect([refused.status, Object.keys(refused.body.fields)]).toEqual([422, ['depthConfirmed']]);
    expect(refused.body.fields.depthConfirmed).toMatch(/20 % is deeper than is usual .* Is it 2 %\?/);
    expect((await api.get('/recipes')).body.recipes.map((r: { name: string }) => r.name)).not.toContain('Ink');
    const kept = await api.post('/recipes', { ...recipe(w.dyeIds.blue, 200_000), depthConfirmed: true });
    expect(kept.status).toBe(201);
    expect((await api.post('/recipes', { ...recipe(w.dyeIds.blue, 20_000), name: 'Sky' })).status).toBe(201);
  });

  test('is asked about on the page, with a tick beside the formula and everything typed kept', async () => {
    const { page, w } = await studioWithDyes();
    const typed = {
      name: 'Ink',
      dyeClass: 'reactive',
      entryStyle: 'ownDepths',
      totalDepth: '',
      shares: '',
      note: 'asked for by the theatre',
      why: '',
      'dyeId.0': String(w.dyeIds.blue),
      'amount.0': '20',
    };
    const asked = await page.post('/recipes', typed);
    expect(asked.status).toBe(422);
    expect(asked.text).toContain('name="depthConfirmed"');
    expect(asked.text).toContain('asked for by the theatre');
    expect((await page.post('/recipes', { ...typed, depthConfirmed: 'yes' })).status).toBe(303);
  });

  test('is said in the weigh-up, asked about when the lot is planned, and planned once it is confirmed', async () => {
    const { api, w } = await studioWithDyes();
    const lot = (depthPpm: number, more: object = {}) => ({
      fibreId: w.linenId,
      methodId: w.methodId,
      goodsText: 'napkins',
      mass: { found: 'weighedDry', massMg: 500_000 },
      colours: [{ revisionId: w.revisionId, depthPpm }],
      ...more,
    });
    // 50 % of 40 % is 20 % of the blue
    const asked = await api.post('/lots', lot(400_000));
    expect([asked.status, Object.keys(asked.body.fields)]).toEqual([422, ['depthConfirmed']]);
    expect(asked.body.fields.depthConfirmed).toMatch(/^Tide blue: 20 % is deeper than is usual/);
    expect((await api.post('/lots', lot(400_000, { depthConfirmed: true }))).status).toBe(201);
    expect((await api.post('/lots', lot(40_000))).status).toBe(201);
  });
});
