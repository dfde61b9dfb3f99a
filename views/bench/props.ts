import type { WeighUpAtScale } from '../../server/calc/overWeighing.ts';
import type { EntryShown, LineShown, LotStatus, StepShown } from '../../server/lots/schemas.ts';
import type { FormState } from '../kit/field.ts';
import type { Show } from '../kit/show.ts';
import type { PlacementAtBench } from './placement.ts';

/** In which order the lines come to the scale. */
export type WeighOrder = 'plan' | 'smallest' | 'dye';

export interface BenchProps {
  order: WeighOrder;
  lotId: number;
  number: string;
  status: LotStatus;
  /** Said of orders that were cancelled; empty when there are none. */
  cancelled: string;
  goodsText: string;
  dryMassMg: number;
  plannedDryMassMg: number;
  show: Show;
  nowAt: number;
  lines: readonly LineShown[];
  /** The line that fills the screen; null when the weigh-up is done. */
  currentId: number | null;
  /** The weigh-up as it stands, from which the ways out of an over-weighed line are worked out. */
  weighUp: WeighUpAtScale;
  /** What the bench is asked: about a choice that was not applied, or one whose cause was voided. */
  questions: readonly {
    questionId: number;
    words: string;
    asks: 'choice' | 'undo';
    line: { componentId: number; name: string; isOver: boolean } | null;
  }[];
  steps: readonly StepShown[];
  readyAt: number | null;
  log: readonly EntryShown[];
  /** Rises with all that is new at this bench, so that the page knows whether it is behind. */
  newest: number;
  person: { personId: number; name: string };
  cautions: readonly string[];
  /** What the method asks for; `recorded` is what was last kept. */
  fields: readonly {
    label: string;
    kind: string;
    unit: string;
    choices: readonly string[];
    recorded: string | null;
  }[];
  deviations: {
    instead: readonly { value: string; of: string; name: string; planned: string }[];
    did: readonly { value: string; words: string; of: readonly string[] }[];
  };
  placement: Pick<PlacementAtBench, 'plan' | 'cloth' | 'colours'>;
  /** Ids for the forms on this page, so that sending one twice records once. */
  newId: () => string;
  /** The form that was refused, by name, with what was typed. */
  refused: { form: string; state: FormState } | null;
}
