import type { LogEntryRow } from '../db/tables/lots.ts';

/** What an entry of the log holds beside its words, by its kind; of entries from earlier versions some of it may be wanting. Nothing
 *  but our own rules writes it, but a log is kept for decades: what is drawn or counted from it is looked at first. */
export interface EntryValue {
  /** Of a weighing: its line with the name and container of then, and the reading. Of a way out: the line that was over. */
  componentId?: number;
  name?: string;
  stockLotCode?: string;
  massMg?: number;
  volumeUl?: number;
  /** The day on which the container came, where that was after the weighing. */
  beforeReceiptOn?: string;
  /** Of a way out that was chosen on other figures and not done. */
  parked?: boolean;
  /** Of a field that the method asks for: which. */
  label?: string;
  tempC?: number;
  voiceId?: number;
  /** Of labour. */
  durationS?: number;
  /** Of a step’s end: by the clock it lies before the beginning. */
  clockWentBack?: boolean;
}

export const entryValueOf = (e: Pick<LogEntryRow, 'valueJson'>): EntryValue => JSON.parse(e.valueJson) as EntryValue;
