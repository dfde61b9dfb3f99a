import type { Db } from '../db/open.ts';
import { type NameOfLot, namesOf } from './queries.ts';

/** One rule for the names of a lot: the name that a thing had when the lot was closed, and what it is called now where that is
 *  another. A lot that is open has the names of today. */
export interface Called {
  code: string;
  name: string;
  /** null when it is called the same. */
  nowCalled: string | null;
}

export interface NamesOfLot {
  called: (kind: NameOfLot['kind'], refId: number | null) => Called | undefined;
  /** What is called otherwise now. */
  renamed: (Called & { kind: NameOfLot['kind']; id: number })[];
}

const calledOf = (n: NameOfLot): Called => ({
  code: n.code,
  name: n.name,
  nowCalled: n.code !== n.codeNow ? `${n.codeNow} ${n.nameNow}` : n.name === n.nameNow ? null : n.nameNow,
});

export function namesOfLot(db: Db, lotId: number): NamesOfLot {
  const names = namesOf(db, lotId);
  const byThing = new Map(names.map((n) => [`${n.kind}:${n.refId}`, calledOf(n)]));
  return {
    called: (kind, refId) => byThing.get(`${kind}:${refId}`),
    renamed: names
      .map((n) => ({ kind: n.kind, id: n.refId, ...calledOf(n) }))
      .filter((n) => n.nowCalled !== null && n.kind !== 'stockLot'),
  };
}

/** A plan as it was saved, under the names that its lot goes by. */
export function planNamed<
  P extends {
    fibreId: number;
    fibreName: string;
    methodId: number;
    methodName: string;
    colours: readonly { ordinal: number; recipeName: string }[];
    lines: readonly { dyeId: number | null; auxiliaryId: number | null; code: string; name: string }[];
  },
>(plan: P, { called }: NamesOfLot, colours: readonly { ordinal: number; recipeName: string }[]): P {
  return {
    ...plan,
    fibreName: called('fibre', plan.fibreId)?.name ?? plan.fibreName,
    methodName: called('method', plan.methodId)?.name ?? plan.methodName,
    colours: plan.colours.map((c) => ({
      ...c,
      recipeName: colours.find((k) => k.ordinal === c.ordinal)?.recipeName ?? c.recipeName,
    })),
    lines: plan.lines.map((l) => {
      const item = l.dyeId === null ? called('auxiliary', l.auxiliaryId) : called('dye', l.dyeId);
      return item ? { ...l, code: item.code, name: item.name } : l;
    }),
  };
}

/** What an earlier version did not keep of a lot, in one line; null when nothing is wanting. */
export function upgradeWords(lot: { namesKept: boolean; strengthKept: boolean }): string | null {
  const strength = 'the strength of its containers';
  const names = 'the time zone and the names of people, containers and customers';
  const words =
    lot.strengthKept === lot.namesKept
      ? `kept neither ${strength} nor ${names}`
      : `did not keep ${lot.strengthKept ? names : strength}`;
  return lot.strengthKept && lot.namesKept
    ? null
    : `An earlier version ${words}; they are shown as they stood at the upgrade.`;
}
