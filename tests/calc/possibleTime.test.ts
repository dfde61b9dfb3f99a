import { describe, expect, test } from 'vitest';
import { CalcError } from '../../server/calc/calcError.ts';
import { FAR_AHEAD_MS, isSaneDay, possibleTime, unaware } from '../../server/calc/possibleTime.ts';

const MINUTE = 60_000;
const DAY = 24 * 60 * MINUTE;
const NOW = Date.UTC(2026, 2, 16, 12);

const held = (atMs: number, over: { beganAtMs?: number; beforeMs?: number; nowMs?: number } = {}) =>
  possibleTime({
    atMs,
    nowMs: NOW,
    beganAtMs: NOW - 3 * DAY,
    beforeMs: DAY,
    aheadMs: FAR_AHEAD_MS,
    field: 'at',
    tooEarly: 'too early',
    ...over,
  });
const refused = (act: () => unknown): { field: string; message: string } => {
  try {
    act();
  } catch (error) {
    if (error instanceof CalcError) return { field: error.field, message: error.message };
  }
  throw new Error('it was taken');
};

describe('a possible time', () => {
  test('between the beginning of what it belongs to and now is taken as it was sent', () => {
    for (const at of [NOW, NOW - 1, NOW - 3 * DAY, NOW - 4 * DAY]) expect(held(at)).toEqual({ at, clockSaidAt: null });
  });

  test('is never later than its arrival: a little ahead is two clocks, more is told', () => {
    expect(held(NOW + 10 * MINUTE)).toEqual({ at: NOW, clockSaidAt: null });
    expect(held(NOW + 10 * MINUTE + 1)).toEqual({ at: NOW, clockSaidAt: NOW + 10 * MINUTE + 1 });
    expect(held(NOW + DAY)).toEqual({ at: NOW, clockSaidAt: NOW + DAY });
    expect(refused(() => held(NOW + DAY + 1)).field).toBe('at');
  });

  test('is refused before the beginning, with the words of what it belongs to', () => {
    expect(refused(() => held(NOW - 4 * DAY - 1))).toEqual({ field: 'at', message: 'too early' });
    expect(refused(() => held(Number.NaN)).field).toBe('at');
  });

  test('after the studio’s own clock was set back, what happens now is possible still', () => {
    const beganAtMs = NOW + 2 * DAY;
    expect(held(NOW, { beganAtMs, beforeMs: 0 })).toEqual({ at: NOW, clockSaidAt: null });
    expect(refused(() => held(NOW - 1, { beganAtMs, beforeMs: 0 })).message).toBe('too early');
  });
});

test('whoever sends at once knows what changed; whoever had no line does not', () => {
  const changedAtMs = NOW - 5 * MINUTE;
  const isUnaware = (atMs: number) => unaware({ atMs, nowMs: NOW, changedAtMs });
  expect(isUnaware(changedAtMs - 1)).toBe(true);
  expect(isUnaware(NOW)).toBe(false);
  expect(isUnaware(NOW - MINUTE + 1)).toBe(false);
  expect(isUnaware(NOW - MINUTE)).toBe(true);
  expect(unaware({ atMs: NOW, nowMs: NOW, changedAtMs: NOW })).toBe(false);
});

test('days lie in years in which a studio has any', () => {
  expect(['1899-12-31', '1900-01-01', '2199-12-31', '2200-01-01', '0001-01-01'].map(isSaneDay)).toEqual([
    false,
    true,
    true,
    false,
    false,
  ]);
});
