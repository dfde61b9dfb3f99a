import { backupState } from '../../backup/backupState.ts';
import { replicaState } from '../../backup/replica.ts';
import { operation } from '../../http/routes.ts';
import { theStudio } from '../../settings/queries.ts';
import { todayOf } from '../overview.ts';
import { TodayResource } from '../schemas.ts';

export const getToday = operation({
  id: 'getToday',
  summary: 'Lots in hand with their running steps, orders by urgency, containers to watch, lots without a reading',
  answer: TodayResource,
  run: async (deps) => {
    const { db, now } = deps;
    const nowAt = now();
    const { orders, containers, ...today } = todayOf(db, nowAt, theStudio(db).zone);
    return {
      ...today,
      nowAt,
      backup: backupState(db, nowAt),
      replica: await replicaState(deps),
      orders: orders.map(({ id, ...order }) => ({ ...order, orderId: id })),
      containers: containers.map(({ id, recalledAt, ...c }) => ({
        ...c,
        stockLotId: id,
        recalled: recalledAt !== null,
      })),
    };
  },
});
