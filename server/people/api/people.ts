import { z } from 'zod';
import { operation } from '../../http/routes.ts';
import { peopleOverview } from '../queries.ts';
import { PersonResource } from '../schemas.ts';

export const listEverybody = operation({
  id: 'listPeople',
  summary: 'Everybody who may or might sign in',
  answer: z.object({ people: z.array(PersonResource) }),
  run: ({ db, now }) => ({
    people: peopleOverview(db, now()).map(({ id, active, ...person }) => ({
      ...person,
      personId: id,
      active: active === 1,
    })),
  }),
});
