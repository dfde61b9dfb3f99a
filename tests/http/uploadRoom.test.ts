import { expect, test } from 'vitest';
import { UploadRoom } from '../../server/http/upload.ts';

test('uploads beyond the room wait, the oldest goes on, and what is answered makes room', async () => {
  const room = new UploadRoom(100, 600_000);
  const [first, second] = [{ name: 'first' }, { name: 'second' }];
  room.enter(first);
  room.enter(second);
  await room.take(first, 60);
  await room.take(second, 40);
  let went = false;
  const waiting = room.take(second, 10).then(() => {
    went = true;
  });
  // Were the oldest held back too, none of them would ever come to its end.
  await room.take(first, 30);
  expect([went, room.heldBytes]).toEqual([false, 130]);
  room.leave(first);
  await waiting;
  expect(room.heldBytes).toBe(50);
});

test('one that found no room for too long is told to come again, and others are not held back by it', async () => {
  const room = new UploadRoom(100, 1);
  const [first, second] = [{ name: 'first' }, { name: 'second' }];
  room.enter(first);
  room.enter(second);
  await room.take(first, 100);
  await expect(room.take(second, 1)).rejects.toMatchObject({ code: 'busy', status: 503 });
  room.leave(second);
  expect(room.heldBytes).toBe(100);
});

test('one whose sender has gone takes nothing more', async () => {
  const room = new UploadRoom(100, 600_000);
  const gone = { name: 'gone' };
  room.enter(gone);
  room.leave(gone);
  await room.take(gone, 1_000);
  expect(room.heldBytes).toBe(0);
});
