import { sql } from 'drizzle-orm';
import { describe, expect, test } from 'vitest';
import { freshStudio, type TestStudio } from '../support/app.ts';
import { type LineOnBench, plannedLot } from '../support/benchWorld.ts';
import { makeWorld, type World } from '../support/world.ts';

/** What was confirmed is what is applied: 12.00 g blue, 7.20 g yellow, 4.80 g red on 1.2 kg. */

interface Lot {
  lines: LineOnBench[];
  dryMassMg: number;
  log: { entryId: number; kind: string; text: string; voidedReason: string | null }[];
  questions: { questionId: number; kind: string; words: string; entryId: number }[];
}
interface Way {
  way: string;
  vessel: string;
  goodsFactor: number;
  confirmed: {
    goodsDryMassMg: number;
    lines: { lineId: string; target: number; actual: number | null }[];
    after: { goodsDryMassMg: number; lines: { lineId: string; target: number }[] };
  };
}

async function bench(more: Record<string, string> = {}) {
  const studio = await freshStudio();
  const w = makeWorld(studio);
  const { lotId, lineOf, lineIn } = await plannedLot(studio, w, more);
  let ids = 0;
  const id = () => `tablet-${++ids}-0000`;
  const stock: Record<string, keyof World['stock']> = {
    RB: 'blue',
    RY: 'yellow',
    RR: 'red',
    SALT: 'salt',
    SODA: 'soda',
  };
  const weigh = async (code: string, amount: number): Promise<number> => {
    const answer = await studio.api.post(`/lots/${lotId}/weighings`, {
      componentId: lineOf(code).componentId,
      stockLotId: w.stock[stock[code] ?? 'blue'].id,
      massMg: amount,
      clientId: id(),
    });
    expect(answer.status, answer.text).toBe(201);
    return answer.body.entryId;
  };
  const way = async (code: string, kind: string, vessel = 'own'): Promise<Way> => {
    const { body } = await studio.api.get(`/lots/${lotId}/ways-out/${lineOf(code).componentId}`);
    const found = (body.waysOut as Way[]).find((x) => x.way === kind && x.vessel === vessel);
    if (!found) throw new Error(`${kind} is not offered.`);
    return found;
  };
  const take = (code: string, chosen: Way) =>
    studio.api.post(`/lots/${lotId}/adjustments`, {
      componentId: lineOf(code).componentId,
      way: chosen.way,
      vessel: chosen.vessel,
      confirmed: chosen.confirmed,
      clientId: id(),
    });
  const now = async (): Promise<Lot> => (await studio.api.get(`/lots/${lotId}`)).body;
  const figures = async () => {
    const lot = await now();
    return { goods: lot.dryMassMg, lines: lot.lines.map((l) => [l.code, l.target, l.actual, l.state]) };
  };
  const void_ = (entryId: number, reason = 'misread') =>
    studio.api.post(`/log/${entryId}/voiding`, { reason, clientId: id() });
  return { studio, w, lotId, lineOf, lineIn, weigh, way, take, now, figures, void_, id };
}

const adjustments = (studio: TestStudio) =>
  studio.deps.db.get<{ n: number }>(sql`select count(*) as n from lot_adjustments`).n;

describe('a way out carries the figures it was chosen on', () => {
  test('it makes exactly what was confirmed when they hold', async () => {
    const { weigh, way, take, now } = await bench();
    await weigh('RR', 5280);
    const chosen = await way('RR', 'moreGoods');
    expect(chosen.goodsFactor).toBeCloseTo(1.1, 9); // 5.28 / 4.80
    // Somebody else weighs another line meanwhile: of it the choice makes the same, and nothing that was chosen has changed.
    await weigh('RB', 12_010);
    const taken = await take('RR', chosen);
    expect([taken.status, taken.body.question]).toEqual([201, null]);
    const lot = await now();
    expect(lot.dryMassMg).toBe(chosen.confirmed.after.goodsDryMassMg);
    expect(lot.lines.map((l) => ({ lineId: String(l.componentId), target: l.target }))).toEqual(
      chosen.confirmed.after.lines,
    );
    expect(lot.questions).toEqual([]);
  });

  test('it is parked with a question, and changes nothing, when another has weighed the line meanwhile', async () => {
    const { studio, lotId, weigh, way, take, now, figures, lineOf } = await bench();
    await weigh('RR', 5280);
    const chosen = await way('RR', 'moreGoods');
    await weigh('RR', 4400); // the other phone: 9.68 g of 4.80 g is × 2.017, which nobody confirmed
    const before = await figures();
    const parked = await take('RR', chosen);
    expect(parked.status, parked.text).toBe(201);
    expect(parked.body.question.words).toBe(
      'Inês chose ‘dye more goods’ (× 1.100) when Hip red stood at 5.28 g. It stands at 9.68 g now, since Inês has weighed 4.4 g too. Nothing has been changed. Choose again?',
    );
    expect(await figures()).toEqual(before);
    expect(adjustments(studio)).toBe(0);
    const page = (await studio.page.get(`/lots/${lotId}/bench`)).text;
    expect(page).toContain('stood at 5.28 g. It stands at 9.68 g now');
    expect(page).toContain('Choose again for Hip red');
    expect(page).toContain('Leave it as it is');
    // Chosen again for the figures as they stand, the question is answered by the deed.
    const again = await way('RR', 'moreGoods');
    expect((await take('RR', again)).body.question).toBeNull();
    const lot = await now();
    expect(lot.questions).toEqual([]);
    expect(lot.dryMassMg).toBe(again.confirmed.after.goodsDryMassMg);
    expect(lot.lines.find((l) => l.componentId === lineOf('RB').componentId)?.target).toBe(24_200); // 12 · 9.68 / 4.80
  });

  test('of two devices that both take one, the second is asked; so is one that is not over any more, and one without figures', async () => {
    const { studio, lotId, weigh, way, take, now, figures, void_, id, lineOf } = await bench();
    const entry = await weigh('RR', 5280);
    const [more, deeper] = [await way('RR', 'moreGoods'), await way('RR', 'deeper')];
    await take('RR', more);
    const before = await figures();
    const second = await take('RR', deeper);
    expect(second.body.question.words).toMatch(/4\.80 g of it was wanted then; 5\.28 g is wanted now/);
    expect(await figures()).toEqual(before);
    const left = await studio.api.post(`/lots/${lotId}/questions/${second.body.question.questionId}/answer`, {
      answer: 'left',
      clientId: id(),
    });
    expect([left.status, left.body.questions]).toEqual([200, []]);
    expect(await figures()).toEqual(before);

    const other = await bench();
    const over = await other.weigh('RR', 5280);
    const chosen = await other.way('RR', 'weighAgain');
    await other.void_(over);
    const late = await other.take('RR', chosen);
    expect([late.status, late.body.question.words]).toEqual([
      201,
      'Inês chose ‘discard and weigh again’ when Hip red stood at 5.28 g. It stands at nothing in its cup now, since a reading was voided or discarded. Nothing has been changed. Choose again?',
    ]);

    // A form of an earlier version, kept on a device, carries no figures: it is parked, and does not hold up what follows it.
    const third = await bench();
    await third.weigh('RR', 5280);
    const form = { componentId: String(third.lineOf('RR').componentId), way: 'deeper', stage: 'dry', vessel: 'own' };
    const sent = await third.studio.page.part('post', `/lots/${third.lotId}/adjustments`, form);
    expect(sent.status).toBe(200);
    expect(sent.text).toContain('without the figures it was chosen on');
    expect(adjustments(third.studio)).toBe(0);
    // By the API the figures must come with it.
    const bare = await third.studio.api.post(`/lots/${third.lotId}/adjustments`, {
      ...form,
      componentId: lineOf('RR').componentId,
      clientId: id(),
    });
    expect(bare.status).toBe(422);
    void [now, void_, entry];
  });

  test('a whole cup is thrown away only as it was seen: a powder that came into it meanwhile is not', async () => {
    const { weigh, way, take, figures } = await bench();
    await weigh('RB', 12_000);
    await weigh('RR', 5280);
    const chosen = await way('RR', 'weighAgain', 'shared');
    await weigh('RY', 7200);
    const before = await figures();
    const parked = await take('RR', chosen);
    expect(parked.body.question.words).toMatch(/Gorse yellow has changed since: 7\.20 g in the cup/);
    expect(await figures()).toEqual(before);
  });

  test('what was asked and not answered lapses when the lot is closed', async () => {
    const { studio, lotId, weigh, way, take, id } = await bench();
    await weigh('RR', 5280);
    const chosen = await way('RR', 'moreGoods');
    await weigh('RR', 4400);
    await take('RR', chosen);
    await studio.api.post(`/lots/${lotId}/outcome`, { firstQuality: 24, unweighedConfirmed: true, clientId: id() });
    expect(studio.deps.db.all(sql`select answer from questions`)).toEqual([{ answer: 'lapsed' }]);
  });
});

describe('every choice can be undone', () => {
  for (const [kind, vessel] of [
    ['moreGoods', 'own'],
    ['deeper', 'own'],
    ['weighAgain', 'own'],
    ['weighAgain', 'shared'],
  ] as const)
    test(`${kind} (${vessel}): targets, goods and what it discarded are as before`, async () => {
      const { studio, lotId, weigh, way, take, figures, void_ } = await bench();
      await weigh('RB', 12_010);
      await weigh('RR', 5280);
      const before = await figures();
      const { entryId } = (await take('RR', await way('RR', kind, vessel))).body;
      expect(await figures()).not.toEqual(before);
      const undone = await void_(entryId, 'chosen by mistake');
      expect(undone.status, undone.text).toBe(201);
      expect(await figures()).toEqual(before);
      const page = (await studio.page.get(`/lots/${lotId}`)).text;
      expect(page).toContain('void: chosen by mistake');
      // What costs the lot is what was really thrown away: nothing.
      const done = await studio.api.post(`/lots/${lotId}/outcome`, {
        firstQuality: 24,
        unweighedConfirmed: true,
        clientId: 'finish-0001',
      });
      expect(done.status, done.text).toBe(201);
      expect((done.body.costLines as { wasted: boolean }[]).filter((c) => c.wasted)).toEqual([]);
      expect(done.body.dryMassMg).toBe(1_200_000);
    });

  test('a later choice was built upon an earlier one: the newest is undone first, and then the one before it', async () => {
    const { weigh, way, take, figures, void_ } = await bench();
    await weigh('RR', 5280);
    const start = await figures();
    const first = (await take('RR', await way('RR', 'moreGoods'))).body.entryId;
    await weigh('RB', 14_000); // 13.20 g wanted by now
    const between = await figures();
    const second = (await take('RB', await way('RB', 'deeper'))).body.entryId;
    const refused = await void_(first);
    expect([refused.status, refused.body.code]).toEqual([409, 'conflict']);
    expect(refused.body.detail).toMatch(
      /A later choice was built upon this one. Undo that first: Tide blue over-weighed/,
    );
    expect((await void_(second)).status).toBe(201);
    expect(await figures()).toEqual(between);
    expect((await void_(first)).status).toBe(201);
    const { goods, lines } = await figures();
    expect(goods).toBe(start.goods);
    expect(lines.map(([code, target]) => [code, target])).toEqual(start.lines.map(([code, target]) => [code, target]));
    // Undone, it is not undone again.
    expect((await void_(second)).status).toBe(409);
  });

  test('voiding the reading that a choice was made for offers to undo the choice, on the page and by the API', async () => {
    const { studio, lotId, weigh, way, take, now, figures, void_, id } = await bench();
    const plan = await figures();
    const misread = await weigh('RR', 9680);
    const chosen = (await take('RR', await way('RR', 'moreGoods'))).body.entryId;
    const voided = await void_(misread);
    expect(voided.body.question.words).toMatch(
      /^The reading behind this choice has been voided: “Hip red over-weighed: more goods, × 2\.017/,
    );
    expect((await now()).dryMassMg).toBe(2_420_000);
    const page = (await studio.page.get(`/lots/${lotId}/bench`)).text;
    expect(page).toContain('Undo the choice');
    expect(page).toContain('Keep the choice');
    const { questionId } = voided.body.question;
    const answer = { answer: 'undone', reason: 'the reading is void', clientId: id() };
    expect((await studio.api.post(`/lots/${lotId}/questions/${questionId}/answer`, answer)).status).toBe(200);
    expect(await figures()).toEqual(plan);
    expect((await now()).questions).toEqual([]);
    // Sent again after a lost answer, nothing happens twice.
    expect((await studio.api.post(`/lots/${lotId}/questions/${questionId}/answer`, answer)).status).toBe(200);
    expect((await now()).log.filter((e) => e.entryId === chosen).map((e) => e.voidedReason)).toEqual([
      'the reading is void',
    ]);
    // A reading of another line, or one from after the choice, asks nothing.
    const later = await weigh('RR', 4800);
    expect((await void_(later)).body.question).toBeNull();
  });

  test('of a lot that has been closed meanwhile nothing is asked that only its bench could answer', async () => {
    const { studio, lotId, weigh, way, take, id } = await bench();
    const misread = await weigh('RR', 9680);
    await take('RR', await way('RR', 'moreGoods'));
    studio.clock.now += 60_000;
    const offlineAt = studio.clock.now;
    studio.clock.now += 60_000;
    const finish = { firstQuality: 24, unweighedConfirmed: true, clientId: id() };
    expect((await studio.api.post(`/lots/${lotId}/outcome`, finish)).status).toBe(201);
    studio.clock.now += 60_000;
    const late = { reason: 'misread', clientId: id(), at: offlineAt };
    expect((await studio.api.post(`/log/${misread}/voiding`, late)).status).toBe(201);
    const asked = (await studio.api.get(`/questions?lotId=${lotId}`)).body as { kind: string; answers: unknown[] }[];
    expect(asked.map((q) => [q.kind, q.answers.length])).toEqual([['lateVoiding', 2]]);
  });

  test('the choice is kept where that is what is answered, and undoing it by the log answers the question', async () => {
    const kept = await bench();
    const misread = await kept.weigh('RR', 5280);
    await kept.take('RR', await kept.way('RR', 'moreGoods'));
    const { questionId } = (await kept.void_(misread)).body.question;
    const form = { answer: 'left', clientId: kept.id() };
    expect((await kept.studio.page.post(`/lots/${kept.lotId}/questions/${questionId}/answer`, form)).status).toBe(303);
    expect([(await kept.now()).dryMassMg, (await kept.now()).questions]).toEqual([1_320_000, []]);

    const undone = await bench();
    const read = await undone.weigh('RR', 5280);
    const { entryId } = (await undone.take('RR', await undone.way('RR', 'moreGoods'))).body;
    await undone.void_(read);
    await undone.void_(entryId);
    expect([(await undone.now()).dryMassMg, (await undone.now()).questions]).toEqual([1_200_000, []]);
  });
});
