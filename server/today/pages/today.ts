import { questionList } from '../../../views/questions/questions.ts';
import { todayPage } from '../../../views/today/today.ts';
import { backupState } from '../../backup/backupState.ts';
import { replicaState } from '../../backup/replica.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { actorOf } from '../../people/guards.ts';
import { unsettledStandings } from '../../people/queries.ts';
import { questionsProps } from '../../questions/shown.ts';
import { theStudio } from '../../settings/queries.ts';
import { showOf } from '../../settings/show.ts';
import { todayOf } from '../overview.ts';

export const showToday = page({
  show: async (deps, { request, reply }) => {
    const { db, now } = deps;
    const actor = actorOf(request);
    const isOwner = actor.role === 'owner';
    const nowAt = now();
    return sendPage(request, reply, {
      title: 'Today',
      section: 'today',
      scripts: ['todayTimers.js'],
      body: todayPage({
        ...todayOf(db, nowAt, theStudio(db).zone),
        nowAt,
        show: showOf(db),
        mayWork: isOwner || actor.role === 'dyer',
        questions: questionList(questionsProps(db, {}, actor, '/')),
        replica: await replicaState(deps),
        backup: { ...backupState(db, nowAt), mayMake: isOwner },
        unsettled: isOwner ? unsettledStandings(db) : null,
      }),
    });
  },
});
