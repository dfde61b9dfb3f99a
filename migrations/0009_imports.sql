-- A swatch that leaves with its import must be told to those who keep the library in memory, so the number of its last change
-- outlives it: the same table without the reference.
CREATE TABLE swatch_changes_kept (swatch_id INTEGER PRIMARY KEY, sequence INTEGER NOT NULL) STRICT;
--> statement-breakpoint
INSERT INTO swatch_changes_kept SELECT swatch_id, sequence FROM swatch_changes;
--> statement-breakpoint
DROP TABLE swatch_changes;
--> statement-breakpoint
CREATE TABLE swatch_changes (
  swatch_id INTEGER PRIMARY KEY,
  sequence INTEGER NOT NULL UNIQUE
) STRICT;
--> statement-breakpoint
INSERT INTO swatch_changes SELECT swatch_id, sequence FROM swatch_changes_kept;
--> statement-breakpoint
DROP TABLE swatch_changes_kept;
--> statement-breakpoint

-- What an import brought may leave with it (see 0004): its readings too, and of a container the count that it came with.
DROP TRIGGER colour_readings_no_delete;
--> statement-breakpoint
CREATE TRIGGER colour_readings_no_delete BEFORE DELETE ON colour_readings
  WHEN OLD.swatch_id IS NULL
    OR NOT EXISTS (SELECT 1 FROM import_rows r JOIN imports i ON i.id = r.import_id WHERE r.thing = 'swatch' AND r.thing_id = OLD.swatch_id AND i.undoing = 1)
  BEGIN SELECT RAISE(ABORT, 'a reading is withdrawn, never changed'); END;
--> statement-breakpoint
DROP TRIGGER stock_ledger_no_delete;
--> statement-breakpoint
CREATE TRIGGER stock_ledger_no_delete BEFORE DELETE ON stock_ledger
  WHEN NOT EXISTS (SELECT 1 FROM import_rows r JOIN imports i ON i.id = r.import_id WHERE r.thing = 'stockLot' AND r.thing_id = OLD.stock_lot_id AND i.undoing = 1)
    OR EXISTS (SELECT 1 FROM stock_ledger o WHERE o.stock_lot_id = OLD.stock_lot_id AND o.kind <> 'receipt' AND NOT (o.kind = 'stockTake' AND o.reason = 'brought over'))
  BEGIN SELECT RAISE(ABORT, 'the stock ledger is append-only'); END;
