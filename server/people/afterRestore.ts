import type { Db } from '../db/open.ts';
import type { PersonRow } from '../db/tables/studio.ts';
import type { Deps } from '../deps.ts';
import { invalid, Refusal } from '../errors.ts';
import { theStudio } from '../settings/queries.ts';
import { endEverySecondStep } from './doorQueries.ts';
import { demandTerminalCode } from './firstRun.ts';
import { hashNewPassphrase } from './passphrase.ts';
import {
  endEveryWayIn,
  insertRestore,
  latestRestore,
  listPeople,
  openRestore,
  personById,
  settleRestore,
  updatePerson,
} from './queries.ts';

/** A person as the studio that was replaced knew them. */
export type KnownPerson = Pick<PersonRow, 'id' | 'name' | 'role' | 'active' | 'createdAt'>;

type Standing = Pick<PersonRow, 'role' | 'active'>;
export interface StandingDifference {
  name: string;
  /** Null for who is not in the archive. */
  personId: number | null;
  archive: Standing | null;
  replaced: Standing | null;
}

/** Whose standing is not the same in both. The same person is who has the same row, whatever they are called by now; in a studio of
 *  other rows, who has the same name. */
export function standingDifferences(
  archive: readonly KnownPerson[],
  replaced: readonly KnownPerson[],
): StandingDifference[] {
  const left = new Set(replaced);
  const take = (is: (other: KnownPerson) => boolean): KnownPerson | undefined => {
    const found = [...left].find(is);
    if (found) left.delete(found);
    return found;
  };
  const pairs = new Map(
    archive.map((p) => [p, take((other) => other.id === p.id && other.createdAt === p.createdAt)] as const),
  );
  for (const [person, other] of pairs) {
    if (!other)
      pairs.set(
        person,
        take(({ name }) => name.toLowerCase() === person.name.toLowerCase()),
      );
  }
  const standing = (p: Standing | undefined): Standing | null => (p ? { role: p.role, active: p.active } : null);
  return [
    ...[...pairs]
      .filter(([p, other]) => p.role !== other?.role || p.active !== other.active)
      .map(([p, other]) => ({
        name: other && other.name !== p.name ? `${p.name} (later ${other.name})` : p.name,
        personId: p.id,
        archive: standing(p),
        replaced: standing(other),
      })),
    ...[...left].map((p) => ({ name: p.name, personId: null, archive: null, replaced: standing(p) })),
  ];
}

/** Shuts a studio that has come out of an archive: nothing that opened it then opens it now, neither for who was dismissed since nor
 *  for who found an old passphrase. Keeps whose standing differs from the studio that it replaces, for the owner to see.
 *  `replaced`: its people; null when there was none, or they cannot be read. */
export function shutRestored(
  db: Db,
  input: {
    now: number;
    archive: string;
    archiveMadeAt: number;
    keptIn: string | null;
    replaced: readonly KnownPerson[] | null;
  },
): StandingDifference[] {
  const { now, replaced, ...restore } = input;
  return db.transaction((tx) => {
    endEveryWayIn(tx, now);
    endEverySecondStep(tx);
    const differing = replaced === null ? [] : standingDifferences(listPeople(tx), replaced);
    insertRestore(tx, { ...restore, restoredAt: now, compared: replaced === null ? 0 : 1 }, differing);
    return differing;
  });
}

/** Whether the studio waits for an owner to come in with the code of the terminal. */
export const waitsForOwner = (db: Db): boolean => latestRestore(db)?.openedAt === null;

export const activeOwners = (db: Db): PersonRow[] => listPeople(db).filter((p) => p.role === 'owner' && p.active === 1);

/** Opens a restored studio for an owner, once, by the code in the server’s terminal, and takes the passphrase that they choose. */
export async function openRestored(
  deps: Deps,
  input: { code: string; ownerId: number; passphrase: string; address: string },
): Promise<void> {
  const { db, now } = deps;
  if (!waitsForOwner(db)) throw openAlready();
  demandTerminalCode(deps, input);
  const owner = personById(db, input.ownerId);
  if (owner?.role !== 'owner' || owner.active !== 1) throw invalid({ ownerId: 'Choose one of the owners.' });
  const passphraseHash = await hashNewPassphrase(deps, input.passphrase, [owner.name, theStudio(db).name]);
  db.transaction((tx) => {
    if (!openRestore(tx, owner.id, now())) throw openAlready();
    updatePerson(tx, owner.id, { passphraseHash });
  });
}

const openAlready = (): Refusal => new Refusal('conflict', 'This studio is open already. Sign in instead.');

/** Notes that an owner has gone through everybody's standing. */
export function settleStandings({ db, now }: Pick<Deps, 'db' | 'now'>): void {
  if (!settleRestore(db, now())) throw new Refusal('conflict', 'That was settled already.');
}
