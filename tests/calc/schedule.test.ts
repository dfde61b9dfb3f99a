import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { fixationTime, type ScheduleStep, schedule } from '../../server/calc/schedule.ts';

const minute = 60_000;
const hour = 60 * minute;
const step = (stepId: string, minutes: number | null, more: Partial<ScheduleStep> = {}): ScheduleStep => ({
  stepId,
  plannedDurationS: minutes === null ? null : minutes * 60,
  ...more,
});
const steps = [step('soak', 30), step('dye', 20), step('fix', 50)];

describe('schedule', () => {
  test('by the plan, one step after the other', () => {
    const planned = schedule({ startAtMs: 0, nowMs: 0, steps });
    expect(planned.steps.map(({ plannedStartAtMs }) => plannedStartAtMs)).toEqual([0, 30 * minute, 50 * minute]);
    expect(planned.plannedReadyAtMs).toBe(100 * minute);
    expect(planned.expectedReadyAtMs).toBe(100 * minute);
  });

  test('an actual end moves what follows, and the plan stands beside it', () => {
    const [soak, ...rest] = steps;
    const late = schedule({
      startAtMs: 0,
      nowMs: 45 * minute,
      steps: [{ ...(soak ?? step('', 0)), actualStartAtMs: 5 * minute, actualEndAtMs: 45 * minute }, ...rest],
    });
    expect(late.steps[0]).toMatchObject({ state: 'done', expectedEndAtMs: 45 * minute, plannedEndAtMs: 30 * minute });
    expect(late.expectedReadyAtMs).toBe(115 * minute);
    expect(late.plannedReadyAtMs).toBe(100 * minute);
  });

  test('a running step counts down, then is overdue and pushes the rest', () => {
    const running = [step('dye', 20, { actualStartAtMs: 0 }), step('fix', 50)];
    expect(schedule({ startAtMs: 0, nowMs: 15 * minute, steps: running }).steps[0]).toMatchObject({
      state: 'running',
      remainingS: 300,
    });
    const overdue = schedule({ startAtMs: 0, nowMs: 26 * minute, steps: running });
    expect(overdue.steps[0]).toMatchObject({ state: 'overdue', remainingS: -360 });
    expect(overdue.expectedReadyAtMs).toBe(76 * minute);
  });

  test('a melt that ends when it is done leaves the end open, until it has ended', () => {
    const ice = (end?: number) => [
      step('melt', null, { actualStartAtMs: 0, actualEndAtMs: end }),
      step('batch', 24 * 60),
    ];
    expect(schedule({ startAtMs: 0, nowMs: 2 * hour, steps: ice() })).toMatchObject({
      expectedReadyAtMs: null,
      plannedReadyAtMs: null,
    });
    expect(schedule({ startAtMs: 0, nowMs: 7 * hour, steps: ice(6.5 * hour) }).expectedReadyAtMs).toBe(
      7 * hour + 24 * hour,
    );
  });

  test('a skipped step takes no time', () => {
    const skipped = schedule({ startAtMs: 0, nowMs: 0, steps: [step('soak', 30, { skipped: true }), step('dye', 20)] });
    expect(skipped.steps[0]).toMatchObject({ state: 'skipped' });
    expect(skipped.expectedReadyAtMs).toBe(20 * minute);
  });

  test('an end before the start is refused', () => {
    expect(() =>
      schedule({ startAtMs: 0, nowMs: 0, steps: [step('dye', 20, { actualStartAtMs: hour, actualEndAtMs: 0 })] }),
    ).toThrow(expect.objectContaining({ field: 'actualEndAtMs' }));
  });

  test('steps never overlap and nothing that waits is expected in the past', () => {
    fc.assert(
      fc.property(
        fc.array(fc.integer({ min: 0, max: 600 }), { minLength: 1, maxLength: 10 }),
        fc.integer({ min: 0, max: 5000 }),
        (minutes, now) => {
          const nowMs = now * minute;
          const result = schedule({
            startAtMs: 0,
            nowMs,
            steps: minutes.map((one, index) => step(String(index), one)),
          });
          let endMs = 0;
          for (const times of result.steps) {
            expect(times.expectedStartAtMs ?? -1).toBeGreaterThanOrEqual(Math.max(endMs, nowMs));
            endMs = times.expectedEndAtMs ?? -1;
            expect(endMs).toBeGreaterThanOrEqual(times.expectedStartAtMs ?? 0);
          }
          expect(result.expectedReadyAtMs).toBe(endMs);
          expect(result.plannedReadyAtMs).toBe(minutes.reduce((sum, one) => sum + one * minute, 0));
        },
      ),
    );
  });
});

describe('fixation time', () => {
  /* Printed: 50 min at 40 °C (a dye maker's immersion sheet); 6–24 h damp (steaming thread, pburch.net); 30–45 min at 93 °C (craft
     supplier's metal-complex sheet). */
  test.each([
    ['reactive', 'immersion', 40, 50 * 60],
    ['reactive', 'dampBatching', 22, 6 * 3600],
    ['metalComplex', 'immersion', 93, 30 * 60],
  ] as const)('%s, %s at %d °C', (dyeClass, procedure, tempC, minimumS) => {
    expect(fixationTime({ dyeClass, procedure, tempC })).toMatchObject({ kind: 'published', minimumS });
  });
  test.each([
    ['reactive', 'dampBatching', 15],
    ['reactive', 'immersion', 55],
    ['vat', 'immersion', 40],
  ] as const)('nothing is made up: %s, %s at %d °C is not known', (dyeClass, procedure, tempC) => {
    expect(fixationTime({ dyeClass, procedure, tempC })).toEqual({ kind: 'notKnown' });
  });
});
