import { methodsPage } from '../../../views/methods/list.ts';
import { sendPage } from '../../http/page.ts';
import { page } from '../../http/routes.ts';
import { allows } from '../../people/guards.ts';
import { methodsInUse } from '../present.ts';

export const showMethods = page({
  show: ({ db }, { request, reply }) =>
    sendPage(request, reply, {
      title: 'Methods',
      section: 'methods',
      body: methodsPage({ methods: methodsInUse(db), mayWork: allows(request.actor, 'work') }),
    }),
});
