import type { FibreRow } from '../db/tables/materials.ts';

/** A fibre as the API tells it. */
export const fibreResource = ({ id, archivedAt, texMilli: _tex, ...row }: FibreRow) => ({
  ...row,
  fibreId: id,
  archived: archivedAt !== null,
});
