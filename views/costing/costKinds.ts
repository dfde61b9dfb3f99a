import type { CostKind } from '../../server/costing/schemas.ts';
import type { Series } from '../kit/chart.ts';

/** Kinds of cost in the order in which bars stack them, each with a pattern of its own. */
export const KINDS: Record<CostKind, Series> = {
  dye: { key: 'dye', label: 'Dye', pattern: 'solid' },
  auxiliary: { key: 'auxiliary', label: 'Auxiliaries', pattern: 'hatch' },
  goods: { key: 'goods', label: 'Goods', pattern: 'dots' },
  labour: { key: 'labour', label: 'Labour', pattern: 'plain' },
  overhead: { key: 'overhead', label: 'Overhead', pattern: 'bars' },
  other: { key: 'other', label: 'Other', pattern: 'cross' },
};
export const kindList = Object.keys(KINDS) as CostKind[];

export type ByKind = Record<CostKind, number>;

export const kindParts = (byKind: ByKind) => kindList.map((kind) => ({ series: KINDS[kind], value: byKind[kind] }));

/** Kinds that occur at all, for the legend. */
export const kindsIn = (all: readonly ByKind[]): Series[] =>
  kindList.filter((kind) => all.some((b) => b[kind] !== 0)).map((kind) => KINDS[kind]);
