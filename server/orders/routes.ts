import { apiRoutes, get, pageRoutes, post, put } from '../http/routes.ts';
import * as ofCustomers from './api/customers.ts';
import * as ofLines from './api/lines.ts';
import * as ofOrders from './api/orders.ts';
import { archiveCustomer, restoreCustomer, showCustomer } from './pages/customer.ts';
import { addCustomer, editCustomer, newCustomer, saveCustomer } from './pages/customerForm.ts';
import { showCustomers } from './pages/customers.ts';
import { newOrder, takeOrder } from './pages/form.ts';
import { editHead, saveHead } from './pages/head.ts';
import { addLine, editLine, newLine, removeLine, saveLine } from './pages/line.ts';
import { showOrders } from './pages/list.ts';
import { moveOrder, noteMixing, showOrder } from './pages/order.ts';

export const pages = pageRoutes([
  get('/customers', 'look', showCustomers),
  get('/customers/new', 'work', newCustomer),
  post('/customers', 'work', addCustomer),
  get('/customers/:id', 'look', showCustomer),
  get('/customers/:id/edit', 'work', editCustomer),
  post('/customers/:id', 'work', saveCustomer),
  post('/customers/:id/archiving', 'work', archiveCustomer),
  post('/customers/:id/restoring', 'work', restoreCustomer),

  get('/orders', 'look', showOrders),
  get('/orders/new', 'work', newOrder),
  post('/orders', 'work', takeOrder),
  get('/orders/:id', 'look', showOrder),
  get('/orders/:id/edit', 'work', editHead),
  post('/orders/:id', 'work', saveHead),
  post('/orders/:id/work', 'work', moveOrder('work')),
  post('/orders/:id/readiness', 'work', moveOrder('readiness')),
  post('/orders/:id/delivery', 'work', moveOrder('delivery')),
  post('/orders/:id/cancellation', 'work', moveOrder('cancellation')),
  post('/orders/:id/reopening', 'work', moveOrder('reopening')),

  get('/orders/:id/lines/new', 'work', newLine),
  post('/orders/:id/lines', 'work', addLine),
  get('/order-lines/:id/edit', 'work', editLine),
  post('/order-lines/:id', 'work', saveLine),
  post('/order-lines/:id/mixing', 'work', noteMixing),
  post('/order-lines/:id/removal', 'work', removeLine),
]);

const customers = apiRoutes('Customers', [
  get('/customers', 'look', ofCustomers.listAllCustomers),
  get('/customers/:id', 'look', ofCustomers.getCustomer),
  post('/customers', 'work', ofCustomers.addCustomer),
  put('/customers/:id', 'work', ofCustomers.saveCustomer),
  post('/customers/:id/archiving', 'work', ofCustomers.archiveCustomer),
  post('/customers/:id/restoring', 'work', ofCustomers.restoreCustomer),
]);

const orders = apiRoutes('Orders', [
  get('/orders', 'look', ofOrders.listSomeOrders),
  get('/orders/:id', 'look', ofOrders.getOrder),
  post('/orders', 'work', ofOrders.addOrder),
  put('/orders/:id', 'work', ofOrders.saveOrder),
  post('/orders/:id/work', 'work', ofOrders.startOrder),
  post('/orders/:id/readiness', 'work', ofOrders.markOrderReady),
  post('/orders/:id/delivery', 'work', ofOrders.deliverOrder),
  post('/orders/:id/cancellation', 'work', ofOrders.cancelOrder),
  post('/orders/:id/reopening', 'work', ofOrders.reopenOrder),
  post('/orders/:id/lines', 'work', ofLines.addOrderLine),
  get('/order-lines/:id', 'look', ofLines.getOrderLine),
  put('/order-lines/:id', 'work', ofLines.saveOrderLine),
  post('/order-lines/:id/mixing', 'work', ofLines.noteLineMixing),
  post('/order-lines/:id/removal', 'work', ofLines.removeOrderLine),
]);

export const api: typeof orders = (app, deps) => {
  customers(app, deps);
  orders(app, deps);
};
