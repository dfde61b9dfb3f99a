import { operation } from '../../http/routes.ts';
import { theStudio } from '../../settings/queries.ts';
import { idParams } from '../../typedFields.ts';
import { quoteOf } from '../quote.ts';
import { QuoteResource, QuoteTermsQuery } from '../schemas.ts';

export const getQuote = operation({
  id: 'getQuote',
  summary: 'Suggested prices of an order from the plans and costs of its lots',
  params: idParams,
  query: QuoteTermsQuery,
  answer: QuoteResource,
  run: (deps, { params, query }) => ({
    currency: theStudio(deps.db).currency,
    ...quoteOf(deps.db, params.id, query),
  }),
});
