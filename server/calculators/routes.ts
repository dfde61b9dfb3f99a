import { apiRoutes, get, post } from '../http/routes.ts';
import { calculate, listCalculations } from './api/calculations.ts';
import { FAMILIES } from './table.ts';

/** Stateless calculators for scripts. They read nothing of the studio's and change nothing, so that anyone may use them
 *  and a token that may only read is enough to POST with. */
export const api = apiRoutes('Calculators', [
  get('/calc', 'anyone', listCalculations),
  ...FAMILIES.flatMap(({ calculations }) =>
    Object.entries(calculations).map(([name, calculation]) =>
      post(`/calc/${name}`, 'anyone', calculate(name, calculation)),
    ),
  ),
]);
