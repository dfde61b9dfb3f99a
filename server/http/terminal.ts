import { fstatSync, writeSync } from 'node:fs';
import { isatty } from 'node:tty';

/** Where lines for whoever runs the service go. */
export interface Terminal {
  write: (text: string) => void;
}

/** Text that a pipe or a terminal has not taken yet; beyond this, lines are lost. */
const MAX_WAITING_BYTES = 262_144;

/** Standard output (1) or error (2), be it a terminal, a pipe or a file. A line that cannot be written is lost and counted, and
 *  the service goes on: neither a full disk nor a pipe that nobody reads nor a terminal that somebody has halted may hold
 *  it up. What was lost is told as soon as something can be written again. */
export function terminal(fd: 1 | 2): Terminal {
  const writeNow = isFileOrDevice(fd) ? intoFile(fd) : intoStream(fd);
  let lost = 0;
  return {
    write: (text) => {
      const notice = lost === 0 ? '' : `[${lost} lines of the log could not be written]\n`;
      if (writeNow(notice + text)) lost = 0;
      else lost++;
    },
  };
}

function isFileOrDevice(fd: number): boolean {
  try {
    const found = fstatSync(fd);
    return found.isFile() || (found.isCharacterDevice() && !isatty(fd));
  } catch {
    // Closed by whoever started the service: every write fails, and is lost.
    return true;
  }
}

/** A file takes a line at once or refuses it (ENOSPC, EIO). */
const intoFile =
  (fd: number) =>
  (text: string): boolean => {
    try {
      writeSync(fd, text);
      return true;
    } catch {
      return false;
    }
  };

/** Node writes into pipes and terminals so that it waits for the other end; here it must not. */
function intoStream(fd: 1 | 2): (text: string) => boolean {
  const stream = fd === 1 ? process.stdout : process.stderr;
  const { _handle: handle } = stream as { _handle?: { setBlocking?: (blocking: boolean) => void } };
  handle?.setBlocking?.(false);
  // The other end may go away.
  stream.on('error', () => {});
  return (text) => {
    if (stream.destroyed || stream.writableLength > MAX_WAITING_BYTES) return false;
    stream.write(text);
    return true;
  };
}
