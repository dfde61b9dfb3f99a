import { liftingForm, recallForm } from '../../../views/stock/recall.ts';
import { recalledContainer, theContainer } from '../containerState.ts';
import { liftRecall, recallContainer } from '../containers.ts';
import { deedPages } from '../deedPages.ts';
import { LiftingForm, RecallForm } from '../schemas.ts';

export const recallPages = deedPages({
  title: 'Recall',
  form: recallForm,
  begin: theContainer,
  schema: () => RecallForm,
  record: (deps, { id: stockLotId }, { reason }, by) => recallContainer(deps, { stockLotId, reason }, by),
  onwards: '/touched',
});

export const liftingPages = deedPages({
  title: 'Lift the recall of',
  form: liftingForm,
  begin: recalledContainer,
  schema: () => LiftingForm,
  record: (deps, { id: stockLotId }, { reason }, by) => liftRecall(deps, { stockLotId, reason }, by),
});
