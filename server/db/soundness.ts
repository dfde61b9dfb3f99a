import type { Sqlite } from './open.ts';

/** Why the record takes no more entries, for the rest of this process. 'damaged': the file reads wrong; the others: what is open is
 *  no longer what the next start would find. */
export interface RecordFault {
  kind: 'damaged' | 'gone' | 'replaced' | 'overwritten' | 'logGone';
  /** A sentence for the people at work. */
  words: string;
}

interface State {
  fault: RecordFault | null;
  look: (() => RecordFault | null) | null;
  /** Whether SQLite refuses writes on its own account already. */
  shut: boolean;
  listeners: ((fault: RecordFault) => void)[];
}

const states = new WeakMap<Sqlite, State>();

function stateOf(sqlite: Sqlite): State {
  const known = states.get(sqlite);
  if (known) return known;
  const fresh: State = { fault: null, look: null, shut: false, listeners: [] };
  states.set(sqlite, fresh);
  return fresh;
}

/** What keeps this connection from writing; null as long as nothing does. */
export const faultOf = (sqlite: Sqlite): RecordFault | null => states.get(sqlite)?.fault ?? null;

/** The same after a fresh look at the file: a few calls of the operating system, so that each entry can be preceded by one. */
export function lookAtFile(sqlite: Sqlite): RecordFault | null {
  const state = states.get(sqlite);
  if (!state) return null;
  if (state.fault === null) {
    const found = state.look?.() ?? null;
    if (found) stopWriting(sqlite, found);
  } else if (!state.shut) shut(sqlite, state);
  return state.fault;
}

/** From now on until the process ends, this connection reads only. The first fault is the one that is told. */
export function stopWriting(sqlite: Sqlite, fault: RecordFault): void {
  const state = stateOf(sqlite);
  if (state.fault !== null) return;
  state.fault = fault;
  shut(sqlite, state);
  for (const tell of state.listeners) tell(fault);
}

function shut(sqlite: Sqlite, state: State): void {
  try {
    sqlite.pragma('query_only = ON');
    state.shut = true;
  } catch {
    // A file is being streamed from this connection just now; the next look tries again, and requests are refused meanwhile.
  }
}

/** By what each look finds out whether the file is still the one that is open. */
export const lookBy = (sqlite: Sqlite, look: () => RecordFault | null): void => {
  stateOf(sqlite).look = look;
};

export const whenFaulty = (sqlite: Sqlite, tell: (fault: RecordFault) => void): void => {
  stateOf(sqlite).listeners.push(tell);
};

const DAMAGE_CODE = /^SQLITE_(CORRUPT|NOTADB)/;
/** Whether an error says that the file itself reads wrong, also where the query builder has wrapped it. */
export function isDamage(error: unknown): boolean {
  const { code, cause } = (error ?? {}) as { code?: unknown; cause?: unknown };
  return typeof code === 'string' ? DAMAGE_CODE.test(code) : cause instanceof Error && isDamage(cause);
}

export const damageFault = (finding: string): RecordFault => ({
  kind: 'damaged',
  words: `The database file is damaged (${finding}). The newest good backup has to be restored.`,
});
