import { marginPct, markupPct, priceMinor } from '../calc/cost.ts';
import type { Db } from '../db/open.ts';
import { notFound } from '../errors.ts';
import { linesOfOrder, type OrderLineWithWants, orderById } from '../orders/queries.ts';
import { linesOfLots, lotsOfOrder } from './queries.ts';
import type { QuoteLine } from './schemas.ts';
import { lineWeights, sharedOut } from './split.ts';

export interface QuoteTerms {
  /** What `pct` is of: the cost (markup) or the price (margin). */
  basis: 'markup' | 'margin';
  pct: number;
  /** Added to a line for each lot that is made for it: stock solutions, washing out, the first hour. */
  setUpMinor: number;
  /** The least that a line is charged. */
  minimumMinor: number;
}

/** Suggested prices of an order from its lots: what a closed one cost, what the plan of an open one foresees. A lot for several
 *  lines is shared out by dry mass, else pieces, else equally; an abandoned one is the studio's loss and no customer's. Where
 *  pieces are known the price of a piece is rounded up to the minor unit and the line is that many of it, so that both tie. */
export function quoteOf(db: Db, orderId: number, terms: QuoteTerms): { lines: QuoteLine[]; totalMinor: number | null } {
  if (!orderById(db, orderId)) throw notFound('order');
  const lots = lotsOfOrder(db, orderId).filter((l) => l.status !== 'abandoned');
  const served = linesOfLots(
    db,
    lots.map((l) => l.lotId),
  );
  const parts = new Map<number, QuoteLine['lots']>();
  for (const lot of lots) {
    const mine = served.filter((l) => l.lotId === lot.lotId);
    const { by, weights } = lineWeights(mine);
    const shares = sharedOut(Math.max(0, lot.costMinor ?? lot.estimateMinor), weights);
    mine.forEach((line, i) => {
      const list = parts.get(line.orderLineId) ?? [];
      list.push({
        lotId: lot.lotId,
        number: lot.number,
        status: lot.status,
        isActual: lot.costMinor !== null,
        costMinor: shares[i] ?? 0,
        sharedBy: mine.length > 1 ? by : null,
      });
      parts.set(line.orderLineId, list);
    });
  }
  const lines = linesOfOrder(db, orderId).map(({ line }) => quoteLine(line, parts.get(line.id) ?? [], terms));
  const priced = lines.filter((l) => l.price !== null);
  return {
    lines,
    totalMinor: priced.length === 0 ? null : priced.reduce((sum, l) => sum + (l.price?.lineMinor ?? 0), 0),
  };
}

function quoteLine(line: OrderLineWithWants['line'], lots: QuoteLine['lots'], terms: QuoteTerms): QuoteLine {
  const costMinor = lots.reduce((sum, l) => sum + l.costMinor, 0);
  const setUpMinor = terms.setUpMinor * lots.length;
  const base = {
    orderLineId: line.id,
    description: line.description,
    pieces: line.pieces,
    agreedMinor: line.priceMinor,
    lots,
    costMinor,
    setUpMinor,
  };
  if (lots.length === 0) return { ...base, price: null };
  const spent = costMinor + setUpMinor;
  const wanted = priceMinor({
    costMinor: spent,
    ...(terms.basis === 'markup' ? { markupPct: terms.pct } : { marginPct: terms.pct }),
  });
  const charged = Math.max(wanted, terms.minimumMinor);
  const pieceMinor = line.pieces === null ? null : Math.ceil(charged / line.pieces);
  const lineMinor = pieceMinor === null ? charged : pieceMinor * (line.pieces ?? 1);
  return {
    ...base,
    price: {
      lineMinor,
      pieceMinor,
      byMinimum: terms.minimumMinor > wanted,
      markupPct: spent > 0 ? markupPct({ priceMinor: lineMinor, costMinor: spent }) : null,
      marginPct: lineMinor > 0 ? marginPct({ priceMinor: lineMinor, costMinor: spent }) : null,
    },
  };
}
