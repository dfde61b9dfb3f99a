-- What the record cannot settle by itself and asks a person: a weighing that reached us after its lot was closed, a choice whose
-- figures no longer hold. The happening itself has been recorded; the question says what hangs on it, in words, and keeps what was
-- answered. asks: who may answer, the owner (money or a recall is touched) or whoever works at the bench.
CREATE TABLE questions (
  id INTEGER PRIMARY KEY,
  kind TEXT NOT NULL CHECK (length(kind) BETWEEN 3 AND 40),
  asks TEXT NOT NULL CHECK (asks IN ('owner', 'bench')),
  lot_id INTEGER REFERENCES lots (id),
  stock_lot_id INTEGER REFERENCES stock_lots (id),
  log_entry_id INTEGER REFERENCES log_entries (id),
  ledger_entry_id INTEGER REFERENCES stock_ledger (id),
  words TEXT NOT NULL CHECK (length(trim(words)) > 0),
  details_json TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(details_json)),
  asked_at INTEGER NOT NULL,
  answer TEXT CHECK (length(trim(answer)) > 0),
  answer_words TEXT NOT NULL DEFAULT '',
  answered_at INTEGER,
  answered_by INTEGER REFERENCES people (id),
  CHECK ((answer IS NULL) = (answered_at IS NULL)),
  CHECK ((answer IS NULL) = (answered_by IS NULL)),
  CHECK (lot_id IS NOT NULL OR stock_lot_id IS NOT NULL)
) STRICT;
--> statement-breakpoint
CREATE INDEX questions_open ON questions (asked_at) WHERE answered_at IS NULL;
--> statement-breakpoint
CREATE INDEX questions_lot ON questions (lot_id) WHERE lot_id IS NOT NULL;
--> statement-breakpoint
CREATE INDEX questions_stock_lot ON questions (stock_lot_id) WHERE stock_lot_id IS NOT NULL;
--> statement-breakpoint
CREATE TRIGGER questions_asked_once BEFORE UPDATE ON questions
  WHEN OLD.answered_at IS NOT NULL OR NEW.id IS NOT OLD.id OR NEW.kind IS NOT OLD.kind OR NEW.asks IS NOT OLD.asks OR NEW.lot_id IS NOT OLD.lot_id
    OR NEW.stock_lot_id IS NOT OLD.stock_lot_id OR NEW.log_entry_id IS NOT OLD.log_entry_id OR NEW.ledger_entry_id IS NOT OLD.ledger_entry_id
    OR NEW.words IS NOT OLD.words OR NEW.details_json IS NOT OLD.details_json OR NEW.asked_at IS NOT OLD.asked_at
  BEGIN SELECT RAISE(ABORT, 'a question is answered once and never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER questions_no_delete BEFORE DELETE ON questions BEGIN SELECT RAISE(ABORT, 'a question is answered, never erased'); END;
