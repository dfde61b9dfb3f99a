-- What reaches the record late: a phone that was offline, a receipt typed in a week afterwards, an entry voided after a count. The
-- happening is written at its own time; what a later count or closing had already seen of it is balanced at that count, so that
-- the ledger still adds up to what was counted plus what came after.

-- The count or closing that this entry holds good, and the late entry that made it necessary.
ALTER TABLE stock_ledger ADD COLUMN balances_id INTEGER REFERENCES stock_ledger (id);
--> statement-breakpoint
ALTER TABLE stock_ledger ADD COLUMN caused_by_id INTEGER REFERENCES stock_ledger (id);
--> statement-breakpoint
-- 1 of the entry that emptied a container which was thrown away: whatever it held then went with it, however much turns out to
-- have been weighed from it before.
ALTER TABLE stock_ledger ADD COLUMN empties INTEGER NOT NULL DEFAULT 0 CHECK (empties IN (0, 1));
--> statement-breakpoint
CREATE TRIGGER stock_ledger_balance BEFORE INSERT ON stock_ledger
  WHEN (NEW.balances_id IS NOT NULL OR NEW.caused_by_id IS NOT NULL OR NEW.empties = 1) AND (
    (NEW.balances_id IS NULL) <> (NEW.caused_by_id IS NULL)
    OR NEW.kind NOT IN ('stockTake', 'waste') OR (NEW.kind = 'waste' AND NEW.empties = 0)
    OR (NEW.balances_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM stock_ledger a WHERE a.id = NEW.balances_id
      AND a.stock_lot_id = NEW.stock_lot_id AND a.at = NEW.at AND (a.kind = 'stockTake' OR a.empties = 1)))
    OR (NEW.caused_by_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM stock_ledger c WHERE c.id = NEW.caused_by_id
      AND c.stock_lot_id = NEW.stock_lot_id AND c.at <= NEW.at)))
  BEGIN SELECT RAISE(ABORT, 'a balancing entry stands at its count, for what happened before it'); END;
--> statement-breakpoint
-- Containers that were thrown away before this version. A mark, no figure; the ledger is otherwise never written over.
DROP TRIGGER stock_ledger_no_update;
--> statement-breakpoint
UPDATE stock_ledger SET empties = 1 WHERE kind = 'waste' AND EXISTS (SELECT 1 FROM stock_lot_events v
  WHERE v.stock_lot_id = stock_ledger.stock_lot_id AND v.kind = 'closed' AND v.at = stock_ledger.recorded_at AND v.at = stock_ledger.at);
--> statement-breakpoint
CREATE TRIGGER stock_ledger_no_update BEFORE UPDATE ON stock_ledger BEGIN SELECT RAISE(ABORT, 'the stock ledger is append-only'); END;
--> statement-breakpoint

-- 1 of an entry that reached the record after its lot had been closed.
ALTER TABLE log_entries ADD COLUMN late INTEGER NOT NULL DEFAULT 0 CHECK (late IN (0, 1));
--> statement-breakpoint
-- What the device's clock said, where that lay ahead of ours and cannot have been; the time of the entry is that of its arrival.
ALTER TABLE log_entries ADD COLUMN clock_said_at INTEGER CHECK (clock_said_at > at);
--> statement-breakpoint
CREATE TRIGGER log_entries_late BEFORE INSERT ON log_entries
  WHEN NEW.late = 1 AND (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NULL
  BEGIN SELECT RAISE(ABORT, 'an entry is late of a closed lot only'); END;
--> statement-breakpoint
-- A closed lot takes a weighing whose entry says that it came late, and no other.
DROP TRIGGER weighings_finished;
--> statement-breakpoint
CREATE TRIGGER weighings_finished BEFORE INSERT ON weighings
  WHEN (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NOT NULL
    AND NOT EXISTS (SELECT 1 FROM log_entries e WHERE e.id = NEW.log_entry_id AND e.lot_id = NEW.lot_id AND e.kind = 'weighing' AND e.late = 1)
  BEGIN SELECT RAISE(ABORT, 'the lot is finished'); END;
--> statement-breakpoint

-- The late entry of the log, a weighing or a voiding, that a cost line of a closed lot was written for.
ALTER TABLE cost_lines ADD COLUMN late_entry_id INTEGER REFERENCES log_entries (id);
--> statement-breakpoint
CREATE TRIGGER cost_lines_late BEFORE INSERT ON cost_lines
  WHEN NEW.late_entry_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM log_entries e WHERE e.id = NEW.late_entry_id
    AND e.lot_id = NEW.lot_id AND e.late = 1 AND e.kind IN ('weighing', 'voiding') AND NEW.stock_lot_id IS NOT NULL)
  BEGIN SELECT RAISE(ABORT, 'a cost follows a late entry of its own lot'); END;
--> statement-breakpoint
-- The third way in for late stock: what a late weighing or voiding moved, written in the same stroke as its cost.
DROP TRIGGER stock_ledger_finished_lot;
--> statement-breakpoint
CREATE TRIGGER stock_ledger_finished_lot BEFORE INSERT ON stock_ledger
  WHEN NEW.lot_id IS NOT NULL AND (SELECT finished_at FROM lots WHERE id = NEW.lot_id) IS NOT NULL
    AND NOT EXISTS (SELECT 1 FROM cost_lines c WHERE c.lot_id = NEW.lot_id AND c.stock_lot_id = NEW.stock_lot_id
      AND (c.correction = 'reversal' OR c.late_entry_id IS NOT NULL) AND c.written_at = NEW.recorded_at AND NEW.kind IN ('issue', 'reversal'))
    AND NOT EXISTS (SELECT 1 FROM cost_lines c WHERE c.lot_id = NEW.lot_id AND c.stock_lot_id = NEW.stock_lot_id
      AND c.added = 1 AND c.written_at = NEW.recorded_at AND c.quantity = -NEW.quantity AND NEW.kind = 'issue')
  BEGIN SELECT RAISE(ABORT, 'the lot is finished'); END;
--> statement-breakpoint

-- Counts from before this version that a later entry for an earlier time spoiled: which of the two is right nobody can know now
-- but by counting again. No figure is changed. A count that was followed by a newer one asks nothing.
INSERT INTO questions (kind, asks, stock_lot_id, ledger_entry_id, words, details_json, asked_at)
  WITH counts AS (SELECT k.* FROM stock_ledger k JOIN stock_lots s ON s.id = k.stock_lot_id
      WHERE k.kind = 'stockTake' AND s.closed_at IS NULL
        AND k.id = (SELECT max(n.id) FROM stock_ledger n WHERE n.stock_lot_id = k.stock_lot_id AND n.kind = 'stockTake')),
    -- A correction takes an issue back and issues anew what is right; both speak of the time of the weighing.
    spoiling AS (SELECT k.id AS count_id, e.id, e.recorded_at, e.quantity FROM counts k
        JOIN stock_ledger e ON e.stock_lot_id = k.stock_lot_id AND e.id > k.id AND e.kind <> 'receipt'
        LEFT JOIN stock_ledger o ON o.id = e.reverses_id
      WHERE e.at < k.at OR (o.id < k.id AND o.at <= k.at)
        OR (e.kind = 'issue' AND e.lot_id IS NOT NULL AND e.weighing_id IS NULL AND EXISTS (SELECT 1 FROM stock_ledger r
          JOIN stock_ledger u ON u.id = r.reverses_id WHERE r.stock_lot_id = e.stock_lot_id AND r.lot_id = e.lot_id
            AND r.recorded_at = e.recorded_at AND u.id < k.id AND u.at <= k.at))),
    spoilt AS (SELECT count_id, count(*) AS entries, sum(quantity) AS quantity, min(recorded_at) AS first_at, max(recorded_at) AS last_at
      FROM spoiling GROUP BY count_id HAVING sum(quantity) <> 0)
  SELECT 'oldCount', 'owner', k.stock_lot_id, k.id,
    iif(date(p.first_at / 1000, 'unixepoch') = date(p.last_at / 1000, 'unixepoch'), 'On ' || date(p.first_at / 1000, 'unixepoch'),
        'Between ' || date(p.first_at / 1000, 'unixepoch') || ' and ' || date(p.last_at / 1000, 'unixepoch')) || ' ' ||
      iif(p.entries = 1, 'one entry', p.entries || ' entries') || ' about an earlier time reached the ledger of ' || s.code
      || ' after the count of ' || date(k.at / 1000, 'unixepoch') || ', and moved what it had found by ' ||
      printf('%+.3f', p.quantity / 1000.0) || iif(s.unit = 'mg', ' g', ' mL') || '. Nothing has been changed. Count the container again.',
    json_object('entries', p.entries, 'quantity', p.quantity), p.last_at
  FROM spoilt p JOIN counts k ON k.id = p.count_id JOIN stock_lots s ON s.id = k.stock_lot_id;
