import sharp from 'sharp';
import { expect, onTestFinished, test } from 'vitest';
import { READING_LIMITS, type ReadingLimits, ReadingProcess, readingProcess } from '../../server/readApart.ts';
import { freshStudio } from '../support/app.ts';

const SIDES = { sidesPx: [640, 1600] };

function reader(limits: Partial<ReadingLimits> = {}): ReadingProcess {
  const one = new ReadingProcess({ ...READING_LIMITS, ...limits });
  onTestFinished(() => one.close());
  return one;
}

const plain = () =>
  sharp({ create: { width: 60, height: 40, channels: 3, background: '#a08060' } })
    .png()
    .toBuffer();

test('a crowd: those beyond a dozen waiting are refused, the others read', async () => {
  const one = reader();
  const content = await plain();
  const all = await Promise.allSettled(Array.from({ length: 16 }, () => one.read('picture', content, SIDES, 'photo')));
  const refused = all.filter((r) => r.status === 'rejected');
  expect(refused.length).toBe(3);
  for (const r of refused) expect(r.reason).toMatchObject({ code: 'busy', status: 503 });
});

test('what grows beyond the memory is ended and told beside its field', async () => {
  // Less than the library of pictures takes for itself.
  const one = reader({ memoryBytes: 60_000_000 });
  await expect(one.read('picture', await plain(), SIDES, 'photo')).rejects.toMatchObject({
    code: 'tooLarge',
    status: 413,
    fields: { photo: expect.stringContaining('takes more memory to read') },
  });
});

test('what takes too long is ended and told beside its field', async () => {
  const one = reader({ giveUpMs: 1 });
  await expect(one.read('picture', await plain(), SIDES, 'photo')).rejects.toMatchObject({
    code: 'tooLarge',
    fields: { photo: expect.stringContaining('takes longer to read') },
  });
});

test('one that waited too long for those before it is told to come again', async () => {
  const one = reader({ mostWaitMs: 1 });
  const content = await plain();
  const first = one.read('picture', content, SIDES, 'photo');
  await expect(one.read('picture', content, SIDES, 'photo')).rejects.toMatchObject({ code: 'busy' });
  await expect(first).resolves.toMatchObject({ large: { widthPx: 60 } });
});

test('after a close the next file starts anew', async () => {
  const one = reader();
  const waiting = expect(one.read('picture', await plain(), SIDES, 'photo')).rejects.toThrow(/closed/);
  one.close();
  await waiting;
  await expect(one.read('picture', await plain(), SIDES, 'photo')).resolves.toMatchObject({ small: { heightPx: 40 } });
});

test('the process ends when the last who held it lets go', async () => {
  const one = reader();
  const [first, second] = [one.hold(), one.hold()];
  const read = one.read('picture', await plain(), SIDES, 'photo');
  first();
  first();
  await expect(read).resolves.toMatchObject({ large: { widthPx: 60 } });
  const refused = expect(one.read('picture', await plain(), SIDES, 'photo')).rejects.toThrow(/closed/);
  second();
  await refused;
});

test('an app holds the one of the service while it is open', async () => {
  let held = 0;
  const { hold } = readingProcess;
  readingProcess.hold = () => {
    held++;
    return () => {
      held--;
    };
  };
  onTestFinished(() => {
    readingProcess.hold = hold;
  });
  const studio = await freshStudio();
  expect(held).toBe(1);
  await studio.app.close();
  expect(held).toBe(0);
});
