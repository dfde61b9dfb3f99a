import { CalcError } from './calc/calcError.ts';

/** Messages beside form fields: field name → what is wrong, in the user's words. '' is the form as a whole. */
export type FieldErrors = Record<string, string>;

/** Every refusal that the service makes: code → status and what it means. The API documentation is made from this. */
export const errorCatalogue = {
  invalidInput: { status: 422, means: 'One or more fields cannot be read or are out of range; see fields.' },
  unreadableRequest: { status: 400, means: 'The request as a whole cannot be read (not JSON, wrong content type).' },
  notSignedIn: { status: 401, means: 'No valid sign-in or token.' },
  wrongPassphrase: { status: 401, means: 'Name and passphrase do not match.' },
  notAllowed: { status: 403, means: 'This person or token may not do that.' },
  secondStepNeeded: { status: 403, means: 'Owners need a second step, and this owner has none yet.' },
  crossSite: { status: 403, means: 'The request did not come from a page of this service.' },
  notFound: { status: 404, means: 'There is no such thing.' },
  conflict: { status: 409, means: 'The thing changed since it was read, or its state does not allow this.' },
  idReused: {
    status: 409,
    means: 'The client id or the Idempotency-Key names something else that was sent before; use one for one content.',
  },
  needsConfirming: {
    status: 409,
    means: 'The reading is hard to believe; send the same again with `confirmed` when it is right. See details.doubts.',
  },
  lotFinished: { status: 409, means: 'The lot is finished; its record stands as it is.' },
  staleEdit: { status: 409, means: 'Somebody saved a newer version; both are shown.' },
  tooLarge: { status: 413, means: 'The upload is larger than the limit.' },
  notAnImage: { status: 415, means: 'The file is not a picture that can be read.' },
  notASound: { status: 415, means: 'The file is not a sound recording of a kind that is kept.' },
  wrongHost: { status: 421, means: 'The service does not answer under this host name.' },
  tooManyTries: { status: 429, means: 'Too many failed sign-ins; wait.' },
  busy: { status: 503, means: 'Too much is asked for at once; try again in a minute.' },
  notSetUp: { status: 503, means: 'The studio has not been set up yet; open the address in a browser.' },
  readOnly: { status: 503, means: 'The data folder cannot be written; nothing was saved.' },
  diskFault: { status: 503, means: 'The disk does not read or write reliably; nothing was saved.' },
  damaged: { status: 503, means: 'The database file is damaged; a backup must be restored.' },
  notTheFile: {
    status: 503,
    means: 'The database file was taken away, replaced or written over while the service runs; nothing was saved.',
  },
  diskFull: { status: 507, means: 'The disk is full; nothing was saved.' },
  internal: { status: 500, means: 'Our fault. The reference number finds it in the log.' },
} as const;

export type ErrorCode = keyof typeof errorCatalogue;

/** A refusal. Thrown by rules and routes, rendered in one place (http/errorHandler.ts). */
export class Refusal extends Error {
  readonly code: ErrorCode;
  readonly fields: FieldErrors;
  readonly details: Record<string, unknown>;
  constructor(code: ErrorCode, message: string, fields: FieldErrors = {}, details: Record<string, unknown> = {}) {
    super(message);
    this.name = 'Refusal';
    this.code = code;
    this.fields = fields;
    this.details = details;
  }
  get status(): number {
    return errorCatalogue[this.code].status;
  }
}

export const notFound = (what: string): Refusal => new Refusal('notFound', `There is no such ${what}.`);

/** What was looked for by an address; refuses when it is not there. */
export function found<Row>(row: Row | undefined, what: string): Row {
  if (row === undefined) throw notFound(what);
  return row;
}

/** Somebody saved a newer version of what a form or a script would save. `beside` when the page shows theirs too. */
export const stale = (what: string, theirs: 'beside' | 'onItsPage' = 'onItsPage'): Refusal =>
  new Refusal(
    'staleEdit',
    `Somebody saved this ${what} meanwhile. What you typed is below${theirs === 'beside' ? ', beside theirs.' : '; open its page again to see theirs.'}`,
  );

/** Refuses with messages beside the fields. */
export const invalid = (fields: FieldErrors, message = 'Some of what was typed needs another look.'): Refusal =>
  new Refusal('invalidInput', message, fields);

/** The same refusal with a message moved to the field by which it was sent, where a rule calls it otherwise. */
export function besideField(error: unknown, ruleField: string, sentField: string): unknown {
  if (!(error instanceof Refusal) || error.fields[ruleField] === undefined) return error;
  const { [ruleField]: words = '', ...others } = error.fields;
  return new Refusal(error.code, error.message, { ...others, [sentField]: words }, error.details);
}

/** Refuses when there is a message beside any field. */
export function demandNone(errors: FieldErrors): void {
  if (Object.keys(errors).length > 0) throw invalid(errors);
}

const TRIGGER_WORDS: Record<string, ErrorCode> = {
  'the lot is finished': 'lotFinished',
  'a recipe revision never changes': 'conflict',
  'the log is append-only': 'conflict',
  'the stock ledger is append-only': 'conflict',
};

const ASK = 'Tell whoever looks after the studio’s computer.';
/** What the disk does to us, by the beginning of SQLite's or the file system's code. A transaction that meets one is rolled back whole. */
const FAULTS: readonly [RegExp, ErrorCode, string][] = [
  [
    /^(SQLITE_FULL|ENOSPC|EDQUOT)/,
    'diskFull',
    `The disk of the studio’s computer is full. Nothing of this was saved; what was saved before stands. ${ASK} With space freed, try again.`,
  ],
  [
    /^(SQLITE_READONLY|EROFS)/,
    'readOnly',
    `The studio’s data folder can be read but not written at the moment. Nothing of this was saved. ${ASK}`,
  ],
  [
    /^(SQLITE_BUSY|SQLITE_LOCKED)/,
    'busy',
    'Something else holds the record at the moment. Nothing was saved; try again.',
  ],
  [
    /^(SQLITE_IOERR|EIO$)/,
    'diskFault',
    `The disk of the studio’s computer does not answer as it should. Nothing of this was saved. ${ASK}`,
  ],
  [
    /^(SQLITE_CORRUPT|SQLITE_NOTADB)/,
    'damaged',
    `The studio’s database file is damaged. Stop working with it: ${ASK.replace('Tell', 'tell')} The newest backup has to be restored.`,
  ],
];

/** What a thrown thing means to the visitor: calc errors and the database's own refusals become catalogue entries;
 *  anything else is `undefined`, an internal error. */
export function asRefusal(error: unknown): Refusal | undefined {
  if (error instanceof Refusal) return error;
  if (error instanceof CalcError) return invalid({ [error.field]: error.message }, error.message);
  const { code, message, cause } = (error ?? {}) as { code?: string; message?: string; cause?: unknown };
  // The query builder wraps what the database says to a bare statement.
  if (code === undefined && cause instanceof Error) return asRefusal(cause);
  if (typeof code === 'string' && code.startsWith('SQLITE_CONSTRAINT')) {
    if (code === 'SQLITE_CONSTRAINT_TRIGGER') {
      const words = message ?? '';
      return new Refusal(TRIGGER_WORDS[words] ?? 'conflict', `${words.charAt(0).toUpperCase()}${words.slice(1)}.`);
    }
    if (code === 'SQLITE_CONSTRAINT_UNIQUE' || code === 'SQLITE_CONSTRAINT_PRIMARYKEY') {
      const column = /\.(\w+)$/.exec(message ?? '')?.[1] ?? '';
      const field = column.replace(/_(.)/g, (_, c: string) => c.toUpperCase());
      return invalid(
        { [field]: 'That is taken already; choose another.' },
        'Something with that name is there already.',
      );
    }
    if (code === 'SQLITE_CONSTRAINT_CHECK') {
      return invalid({}, 'One of the values is not possible here. Nothing was saved.');
    }
    if (code === 'SQLITE_CONSTRAINT_FOREIGNKEY') {
      return new Refusal('conflict', 'That refers to something that is not there (any more).');
    }
  }
  const fault = typeof code === 'string' ? FAULTS.find(([pattern]) => pattern.test(code)) : undefined;
  return fault && new Refusal(fault[1], fault[2]);
}
