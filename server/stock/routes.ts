import { apiRoutes, get, pageRoutes, post, put } from '../http/routes.ts';
import { closeStockLot, listStockLotEvents, reopenStockLot } from './api/closing.ts';
import { getStockLot, listStockLots, receiveStockLot, saveStockLot } from './api/containers.ts';
import { getOnHand, listLedgerEntries, recordStockTake, recordWaste } from './api/ledger.ts';
import { addLateMoney, listStockMoney } from './api/money.ts';
import { liftStockLotRecall, recallStockLot, traceStockLot } from './api/recall.ts';
import { getShoppingList } from './api/shopping.ts';
import { addSolution } from './api/solution.ts';
import { closingPages } from './pages/closing.ts';
import { showContainer } from './pages/container.ts';
import { editContainer, saveContainer } from './pages/edit.ts';
import { showStock } from './pages/list.ts';
import { moneyPages } from './pages/money.ts';
import { liftingPages, recallPages } from './pages/recall.ts';
import { addContainer, newContainer } from './pages/receive.ts';
import { reopeningPages } from './pages/reopening.ts';
import { shoppingFile, showShopping } from './pages/shopping.ts';
import { makeSolution, newSolution } from './pages/solution.ts';
import { stockTakePages } from './pages/stockTake.ts';
import { showTouched, touchedFile } from './pages/touched.ts';
import { wastePages } from './pages/waste.ts';

export const pages = pageRoutes([
  get('/stock/shopping', 'look', showShopping),
  get('/stock/shopping.csv', 'look', shoppingFile),
  get('/stock', 'look', showStock),
  get('/stock/new', 'work', newContainer),
  post('/stock', 'work', addContainer),
  get('/stock/:id', 'look', showContainer),
  get('/stock/:id/edit', 'work', editContainer),
  post('/stock/:id', 'work', saveContainer),
  get('/stock/:id/stock-takes/new', 'log', stockTakePages.ask),
  post('/stock/:id/stock-takes', 'log', stockTakePages.record),
  get('/stock/:id/wastes/new', 'log', wastePages.ask),
  post('/stock/:id/wastes', 'log', wastePages.record),
  get('/stock/:id/money/new', 'work', moneyPages.ask),
  post('/stock/:id/money', 'work', moneyPages.record),
  get('/stock/:id/closing/new', 'work', closingPages.ask),
  post('/stock/:id/closing', 'work', closingPages.record),
  get('/stock/:id/recall/new', 'work', recallPages.ask),
  post('/stock/:id/recall', 'work', recallPages.record),
  get('/stock/:id/reopening/new', 'work', reopeningPages.ask),
  post('/stock/:id/reopening', 'work', reopeningPages.record),
  get('/stock/:id/recall-lifting/new', 'own', liftingPages.ask),
  post('/stock/:id/recall-lifting', 'own', liftingPages.record),
  get('/stock/:id/touched', 'look', showTouched),
  get('/stock/:id/touched.csv', 'look', touchedFile),
  get('/stock/:id/solutions/new', 'log', newSolution),
  post('/stock/:id/solutions', 'log', makeSolution),
]);

export const api = apiRoutes('Stock', [
  get('/stock/shopping', 'look', getShoppingList),
  get('/stock-lots', 'look', listStockLots),
  post('/stock-lots', 'work', receiveStockLot),
  get('/stock-lots/:id', 'look', getStockLot),
  put('/stock-lots/:id', 'work', saveStockLot),
  get('/stock-lots/:id/on-hand', 'look', getOnHand),
  get('/stock-lots/:id/ledger', 'look', listLedgerEntries),
  post('/stock-lots/:id/stock-takes', 'log', recordStockTake),
  post('/stock-lots/:id/wastes', 'log', recordWaste),
  post('/stock-lots/:id/closing', 'work', closeStockLot),
  post('/stock-lots/:id/recall', 'work', recallStockLot),
  post('/stock-lots/:id/reopening', 'work', reopenStockLot),
  post('/stock-lots/:id/recall-lifting', 'own', liftStockLotRecall),
  get('/stock-lots/:id/money', 'look', listStockMoney),
  post('/stock-lots/:id/money', 'work', addLateMoney),
  get('/stock-lots/:id/events', 'look', listStockLotEvents),
  get('/stock-lots/:id/touched', 'look', traceStockLot),
  post('/stock-lots/:id/solutions', 'log', addSolution),
]);
