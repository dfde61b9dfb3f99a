import { questionList } from '../../views/questions/questions.ts';
import { todayPage } from '../../views/today/todayPage.ts';
import { backupState } from '../backup/backupState.ts';
import type { Deps } from '../deps.ts';
import type { App } from '../http/app.ts';
import { sendPage } from '../http/page.ts';
import { actorOf } from '../people/guards.ts';
import { unsettledStandings } from '../people/queries.ts';
import { questionsProps } from '../questions/shown.ts';
import { theStudio } from '../settings/queries.ts';
import { showOf } from '../settings/show.ts';
import { todayOf } from './overview.ts';
import { TodayResource } from './schemas.ts';

export function pages(app: App, deps: Deps): void {
  const { db } = deps;

  app.get('/', { config: { may: 'look' } }, async (request, reply) => {
    const { role } = actorOf(request);
    const nowAt = deps.now();
    return sendPage(request, reply, {
      title: 'Today',
      section: 'today',
      scripts: ['todayTimers.js'],
      body: todayPage({
        ...todayOf(db, nowAt, theStudio(db).zone),
        nowAt,
        show: showOf(db),
        mayWork: role === 'owner' || role === 'dyer',
        questions: questionList(questionsProps(db, {}, actorOf(request), '/')),
        backup: { ...backupState(db, nowAt), mayMake: role === 'owner' },
        unsettled: role === 'owner' ? unsettledStandings(db) : null,
      }),
    });
  });
}

export function api(app: App, deps: Deps): void {
  const { db } = deps;

  app.get(
    '/today',
    {
      config: { may: 'look' },
      schema: {
        operationId: 'getToday',
        tags: ['Today'],
        summary:
          'Lots in hand with their running steps, orders by urgency, containers to watch, lots without a reading',
        response: { 200: TodayResource },
      },
    },
    async () => {
      const nowAt = deps.now();
      const { orders, containers, ...today } = todayOf(db, nowAt, theStudio(db).zone);
      return {
        ...today,
        nowAt,
        backup: backupState(db, nowAt),
        orders: orders.map(({ id, ...order }) => ({ ...order, orderId: id })),
        containers: containers.map(({ id, recalledAt, ...c }) => ({
          ...c,
          stockLotId: id,
          recalled: recalledAt !== null,
        })),
      };
    },
  );
}
