-- What reports read of long tables, in indexes that hold it: after thirty years a row fetched from a table is a page read from the
-- disk. The first columns are those of the index before.
DROP INDEX stock_ledger_stock_lot;
--> statement-breakpoint
CREATE INDEX stock_ledger_stock_lot ON stock_ledger (stock_lot_id, at, kind, quantity, lot_id, solution_id, reverses_id);
--> statement-breakpoint
DROP INDEX cost_lines_stock_lot;
--> statement-breakpoint
CREATE INDEX cost_lines_stock_lot ON cost_lines (stock_lot_id, lot_id, written_at, corrects_id, added, correction, quantity, cost_minor);
--> statement-breakpoint
-- What was ever called otherwise than a closed lot has it: few things, or none. The names of all other things are those of today, so
-- a file of hundreds of thousands of rows and a report over thirty years need not look them up lot by lot. Written by triggers
-- alone; `npm run verify` holds it against the names that lots have kept.
CREATE TABLE renamed_things (
  kind TEXT NOT NULL CHECK (kind IN ('fibre', 'method', 'recipe', 'dye', 'auxiliary', 'person', 'stockLot')),
  ref_id INTEGER NOT NULL,
  PRIMARY KEY (kind, ref_id)
) STRICT, WITHOUT ROWID;
--> statement-breakpoint
INSERT INTO renamed_things
  SELECT DISTINCT n.kind, n.ref_id FROM lot_names n JOIN dyes d ON d.id = n.ref_id
    WHERE n.kind = 'dye' AND (n.code <> d.code COLLATE BINARY OR n.name <> d.name COLLATE BINARY)
  UNION ALL SELECT DISTINCT n.kind, n.ref_id FROM lot_names n JOIN auxiliaries a ON a.id = n.ref_id
    WHERE n.kind = 'auxiliary' AND (n.code <> a.code COLLATE BINARY OR n.name <> a.name COLLATE BINARY)
  UNION ALL SELECT DISTINCT n.kind, n.ref_id FROM lot_names n JOIN fibres f ON f.id = n.ref_id
    WHERE n.kind = 'fibre' AND n.name <> f.name COLLATE BINARY
  UNION ALL SELECT DISTINCT n.kind, n.ref_id FROM lot_names n JOIN methods m ON m.id = n.ref_id
    WHERE n.kind = 'method' AND n.name <> m.name COLLATE BINARY
  UNION ALL SELECT DISTINCT n.kind, n.ref_id FROM lot_names n JOIN recipes r ON r.id = n.ref_id
    WHERE n.kind = 'recipe' AND n.name <> r.name COLLATE BINARY
  UNION ALL SELECT DISTINCT n.kind, n.ref_id FROM lot_names n JOIN people p ON p.id = n.ref_id
    WHERE n.kind = 'person' AND n.name <> p.name COLLATE BINARY
  UNION ALL SELECT DISTINCT n.kind, n.ref_id FROM lot_names n JOIN stock_lots s ON s.id = n.ref_id
    WHERE n.kind = 'stockLot' AND (n.code <> s.code COLLATE BINARY OR n.name <> s.maker_lot COLLATE BINARY);
--> statement-breakpoint
-- As JSON, since codes are compared without regard to capitals and a capital more is another name.
CREATE TRIGGER dyes_renamed AFTER UPDATE ON dyes WHEN json_array(NEW.code, NEW.name) <> json_array(OLD.code, OLD.name)
  BEGIN INSERT OR IGNORE INTO renamed_things VALUES ('dye', NEW.id); END;
--> statement-breakpoint
CREATE TRIGGER auxiliaries_renamed AFTER UPDATE ON auxiliaries WHEN json_array(NEW.code, NEW.name) <> json_array(OLD.code, OLD.name)
  BEGIN INSERT OR IGNORE INTO renamed_things VALUES ('auxiliary', NEW.id); END;
--> statement-breakpoint
CREATE TRIGGER fibres_renamed AFTER UPDATE ON fibres WHEN json_array(NEW.name) <> json_array(OLD.name)
  BEGIN INSERT OR IGNORE INTO renamed_things VALUES ('fibre', NEW.id); END;
--> statement-breakpoint
CREATE TRIGGER methods_renamed AFTER UPDATE ON methods WHEN json_array(NEW.name) <> json_array(OLD.name)
  BEGIN INSERT OR IGNORE INTO renamed_things VALUES ('method', NEW.id); END;
--> statement-breakpoint
CREATE TRIGGER recipes_renamed AFTER UPDATE ON recipes WHEN json_array(NEW.name) <> json_array(OLD.name)
  BEGIN INSERT OR IGNORE INTO renamed_things VALUES ('recipe', NEW.id); END;
--> statement-breakpoint
CREATE TRIGGER people_renamed AFTER UPDATE ON people WHEN json_array(NEW.name) <> json_array(OLD.name)
  BEGIN INSERT OR IGNORE INTO renamed_things VALUES ('person', NEW.id); END;
--> statement-breakpoint
CREATE TRIGGER stock_lots_renamed AFTER UPDATE ON stock_lots
  WHEN json_array(NEW.code, NEW.maker_lot) <> json_array(OLD.code, OLD.maker_lot)
  BEGIN INSERT OR IGNORE INTO renamed_things VALUES ('stockLot', NEW.id); END;
--> statement-breakpoint
CREATE TRIGGER renamed_things_no_update BEFORE UPDATE ON renamed_things
  BEGIN SELECT RAISE(ABORT, 'what was renamed stays told'); END;
--> statement-breakpoint
CREATE TRIGGER renamed_things_no_delete BEFORE DELETE ON renamed_things
  BEGIN SELECT RAISE(ABORT, 'what was renamed stays told'); END;
