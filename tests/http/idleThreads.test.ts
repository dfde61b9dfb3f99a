import { afterEach, expect, test, vi } from 'vitest';
import { MatchingThread } from '../../server/matching/matchingThread.ts';

afterEach(() => {
  vi.useRealTimers();
});

test('a matching thread ends when nobody asked for a while, says what is lost, and starts again with the next question', async () => {
  vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] });
  const lost = vi.fn();
  const thread = new MatchingThread({ restsAfterMs: 60_000, giveUpMs: 300_000, onLost: lost });
  expect(await thread.ask({ kind: 'drop', modelId: 1 })).toBeNull();
  vi.advanceTimersByTime(59_000);
  thread.stayAwake();
  vi.advanceTimersByTime(59_000);
  expect(lost).not.toHaveBeenCalled();
  vi.advanceTimersByTime(1_000);
  expect(lost).toHaveBeenCalledTimes(1);
  expect(await thread.ask({ kind: 'drop', modelId: 1 })).toBeNull();
  await thread.close();
  vi.advanceTimersByTime(60_000);
  expect(lost).toHaveBeenCalledTimes(1);
});
