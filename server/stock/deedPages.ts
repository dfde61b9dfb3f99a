import type { z } from 'zod';
import type { Html } from '../../views/html.ts';
import type { FormState } from '../../views/kit/field.ts';
import type { Show } from '../../views/kit/show.ts';
import type { Actor, Deps } from '../deps.ts';
import { submitForm } from '../http/forms.ts';
import { type Rendering, sendPage } from '../http/page.ts';
import { page } from '../http/routes.ts';
import { actorOf } from '../people/guards.ts';
import { showOf } from '../settings/show.ts';
import { idParams } from '../typedFields.ts';
import { theContainer } from './containerState.ts';
import type { StockLotOverview } from './queries.ts';

/** A fresh form: its hidden id makes a second press of the button the same request. */
export const freshForm = (deps: Deps, typed: Record<string, string> = {}): FormState => ({
  typed: { clientId: deps.newId(), ...typed },
  errors: {},
});

/** What is done with a container, each deed on a page of its own, so that one thing is asked at a time: `ask` shows the form, `record`
 *  takes what was typed and goes back to the container. */
export const deedPages = <Form extends z.ZodType, Begun extends StockLotOverview>(deed: {
  /** Before the container's code in the title. */
  title: string;
  form: (props: { container: StockLotOverview; form: FormState; show: Show }) => Html;
  /** The container, where the deed can be begun with it; refuses otherwise. */
  begin: (db: Deps['db'], id: number) => Begun;
  /** What the form is filled with to begin with. */
  typed?: (deps: Deps, container: Begun) => Record<string, string>;
  schema: (deps: Deps, container: StockLotOverview) => Form;
  record: (deps: Deps, container: StockLotOverview, input: z.output<Form>, by: Actor) => void;
  /** Where on the container's page it goes on, as the end of an address. */
  onwards?: string;
}) => {
  const shown = (deps: Deps, container: StockLotOverview, form: FormState): Rendering => ({
    title: `${deed.title} ${container.code}`,
    section: 'stock',
    body: deed.form({ container, form, show: showOf(deps.db) }),
  });
  return {
    ask: page({
      params: idParams,
      show: (deps, { params, request, reply }) => {
        const container = deed.begin(deps.db, params.id);
        return sendPage(request, reply, shown(deps, container, freshForm(deps, deed.typed?.(deps, container))));
      },
    }),
    record: page({
      params: idParams,
      show: (deps, { params, request, reply }) => {
        const container = theContainer(deps.db, params.id);
        return submitForm(request, reply, {
          schema: deed.schema(deps, container),
          save: (input) => {
            deed.record(deps, container, input, actorOf(request));
            return `/stock/${container.id}${deed.onwards ?? ''}`;
          },
          again: (form) => shown(deps, container, form),
        });
      },
    }),
  };
};
