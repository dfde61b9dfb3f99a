import { durationText, massText, tempText, volumeText } from '../calc/quantity.ts';
import type { LogEntryRow } from '../db/tables/lots.ts';
import type { Actor, Deps } from '../deps.ts';
import { invalid } from '../errors.ts';
import { type Bench, benchOf } from '../lots/benchState.ts';
import { demandOpen, recordOnce, type SentOccurrence } from '../lots/occurrence.ts';
import { insertEntry } from '../lots/queries.ts';
import { theStudio } from '../settings/queries.ts';
import type { Did } from './schemas.ts';

/** What of a plan may be done otherwise: a step's time or temperature, an auxiliary, how the goods lie. */
export type InsteadOf = 'time' | 'temp' | 'line' | 'placement';

export interface InsteadChoice {
  /** 'time:STEP', 'temp:STEP', 'line:COMPONENT', 'placement'. */
  value: string;
  of: InsteadOf;
  name: string;
  /** What the plan says, in the studio's units. */
  planned: string;
  stepId: number | null;
}

/** What was done instead: key → words, and what it may be instead of. 'other' wants words of its own. */
export const DID = {
  longer: { words: 'longer', of: ['time'] },
  shorter: { words: 'shorter', of: ['time'] },
  hotter: { words: 'hotter', of: ['temp'] },
  cooler: { words: 'cooler', of: ['temp'] },
  more: { words: 'more of it', of: ['line'] },
  less: { words: 'less of it', of: ['line'] },
  folded: { words: 'folded another way', of: ['placement'] },
  placed: { words: 'placed another way', of: ['placement'] },
  skipped: { words: 'skipped it', of: ['time', 'line'] },
  other: { words: 'something else', of: ['time', 'temp', 'line', 'placement'] },
} as const satisfies Record<Did, { words: string; of: readonly InsteadOf[] }>;

/** Everything of a lot's plan that a deviation can be from, in the plan's order. */
export function insteadChoices(bench: Bench, units: 'metric' | 'us'): InsteadChoice[] {
  const system = units === 'us' ? ('US' as const) : ('metric' as const);
  const steps = bench.steps.flatMap((s): InsteadChoice[] => [
    {
      value: `time:${s.stepId}`,
      of: 'time',
      name: s.name,
      planned: durationText({ durationS: s.plannedDurationS }),
      stepId: s.stepId,
    },
    ...(s.plannedTempC === null
      ? []
      : [
          {
            value: `temp:${s.stepId}`,
            of: 'temp' as const,
            name: s.name,
            planned: tempText({ tempC: s.plannedTempC, scale: units === 'us' ? 'F' : 'C' }),
            stepId: s.stepId,
          },
        ]),
  ]);
  const auxiliaries = bench.lines
    .filter((l) => l.component.kind === 'auxiliary')
    .map(
      (l): InsteadChoice => ({
        value: `line:${l.component.id}`,
        of: 'line',
        name: l.component.name,
        planned: l.unit === 'mg' ? massText({ massMg: l.target, system }) : volumeText({ volumeUl: l.target, system }),
        stepId: null,
      }),
    );
  return [
    ...steps,
    ...auxiliaries,
    { value: 'placement', of: 'placement', name: 'Placement', planned: '', stepId: null },
  ];
}

/** Records “instead of … I did …”: what the plan said stands in the entry as it was then. */
export function recordDeviation(
  deps: Deps,
  input: { lotId: number; instead: string; did: Did; text: string; stepId: number | null } & SentOccurrence,
  by: Actor,
): LogEntryRow {
  const text = input.text.trim();
  if (text.length > 1000) throw invalid({ text: 'At most 1000 characters.' });
  return recordOnce(deps, input.lotId, input, by, 'deviation', (tx, base, when, lot) => {
    demandOpen(lot, when);
    const bench = benchOf(tx, lot.id, deps.now());
    const chosen = insteadChoices(bench, theStudio(tx).units).find((c) => c.value === input.instead);
    if (!chosen) throw invalid({ instead: 'Choose what of the plan it was instead of.' });
    const did = DID[input.did];
    if (!did.of.some((of) => of === chosen.of))
      throw invalid({ did: `“${did.words}” does not go with ${chosen.name}.` });
    if (input.did === 'other' && text === '') throw invalid({ text: 'Say what you did instead.' });
    const meant = `${chosen.name}${chosen.planned ? `, ${chosen.planned}` : ''}`;
    const done = input.did === 'other' ? text : `${did.words}${text ? `, ${text}` : ''}`;
    return insertEntry(tx, {
      ...base(deps, lot.id, input, by),
      kind: 'deviation',
      stepId: chosen.stepId ?? input.stepId,
      text: `instead of ${meant}: ${done}`,
      valueJson: JSON.stringify({ instead: chosen.value, planned: chosen.planned, did: input.did }),
    });
  });
}
