import { z } from 'zod';
import type { FormState } from '../../views/kit/field.ts';
import type { Deps } from '../deps.ts';
import { idParams } from '../typedFields.ts';
import { submitForm } from './forms.ts';
import { type Rendering, seeOther } from './page.ts';
import { operation, page } from './routes.ts';

/* What is put in the archive and taken out of it again, at both doors. The rule that does it refuses what is not there. */

type Db = Deps['db'];
/** Puts something in the archive as of an instant, or takes it out with null. */
type SetArchived = (db: Db, id: number, archivedAt: number | null) => unknown;

/** The two buttons on the page of a thing; `at` is its address without its number. */
export const archivingPages = ({ at, setArchived }: { at: string; setArchived: SetArchived }) => {
  const action = (archived: boolean) =>
    page({
      params: idParams,
      show: ({ db, now }, { params, reply }) => {
        setArchived(db, params.id, archived ? now() : null);
        return seeOther(reply, `${at}/${params.id}`);
      },
    });
  return { archive: action(true), restore: action(false) };
};

/** The same as operations, which answer the thing as it is afterwards. */
export const archivingOperations = <Answer extends z.ZodType>(of: {
  noun: string;
  answer: Answer;
  setArchived: SetArchived;
  resource: (db: Db, id: number) => z.output<Answer>;
}) => {
  const { noun, answer, setArchived, resource } = of;
  const action = (archived: boolean) =>
    operation({
      id: `${archived ? 'archive' : 'restore'}${noun.charAt(0).toUpperCase()}${noun.slice(1)}`,
      summary: archived ? `Put a ${noun} in the archive` : `Take a ${noun} out of the archive`,
      params: idParams,
      answer,
      run: ({ db, now }, { params }) => {
        setArchived(db, params.id, archived ? now() : null);
        return resource(db, params.id);
      },
    });
  return { archive: action(true), restore: action(false) };
};

const Choice = z.object({ archived: z.enum(['yes', 'no']) });

/** One button that says which way it goes: what is put away leads back to the list, what is put back to its page. */
export const puttingAway = <Row extends object>(of: {
  at: string;
  find: (db: Db, id: number) => Row;
  setArchived: SetArchived;
  again: (form: FormState, row: Row) => Rendering;
}) =>
  page({
    params: idParams,
    show: ({ db, now }, { params, request, reply }) => {
      const row = of.find(db, params.id);
      return submitForm(request, reply, {
        schema: Choice,
        save: ({ archived }) => {
          of.setArchived(db, params.id, archived === 'yes' ? now() : null);
          return archived === 'yes' ? of.at : `${of.at}/${params.id}`;
        },
        again: (form) => of.again(form, row),
      });
    },
  });
