import type { WeighUpAtScale } from '../../server/calc/overWeighing.ts';
import type { EntryShown, LineShown, LotStatus, StepShown, WeighingShown } from '../../server/lots/schemas.ts';
import type { FormState } from '../kit/field.ts';
import type { Show } from '../kit/show.ts';
import type { PlacementAtBench } from './placement.ts';

/** In which order the lines come to the scale. */
export type WeighOrder = 'plan' | 'smallest' | 'dye';

/** What of a line waits on this device; the studio's computer knows nothing of it yet. */
export interface KeptOnLine {
  /** A reading waits that only the studio's computer can read: the line is judged once it is sent. */
  unread: boolean;
  weighings: readonly {
    clientId: string;
    at: number;
    words: string;
    mark: string;
    containerId: number;
    counts: number;
  }[];
  /** Ways out that were chosen; `holds` is false of one that was chosen on other figures than these. */
  choices: readonly { words: string; mark: string; holds: boolean }[];
}
/** `undone` is the reason of an undoing that waits. */
export type WeighingAtBench = WeighingShown & { undone?: string };
export type LineAtBench = Omit<LineShown, 'weighings'> & { weighings: readonly WeighingAtBench[]; kept?: KeptOnLine };
/** `kept`: it was begun or ended on this device, which has not been sent. */
export type StepAtBench = StepShown & { kept?: boolean };

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
  lines: readonly LineAtBench[];
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
    /** The answer waits on this device. */
    answered?: boolean;
  }[];
  steps: readonly StepAtBench[];
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
  /** An id for each form on this page, so that sending it twice records once; `form` tells the forms apart. */
  newId: (form: string) => string;
  /** The form that was refused, by name, with what was typed. */
  refused: { form: string; state: FormState } | null;
}

/** What is drawn of the bench on both sides: by the server, and by the page itself with what waits on its device. */
export type BenchDrawn = Pick<
  BenchProps,
  | 'lotId'
  | 'order'
  | 'show'
  | 'nowAt'
  | 'lines'
  | 'currentId'
  | 'weighUp'
  | 'questions'
  | 'steps'
  | 'readyAt'
  | 'dryMassMg'
  | 'plannedDryMassMg'
  | 'refused'
  | 'newId'
>;
/** The same as the page carries it, as JSON. */
export type BenchCarried = Omit<BenchDrawn, 'newId'>;
