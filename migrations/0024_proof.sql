-- A record that proves itself. Every entry of the log, every weighing, the ledger, the cost lines, the money and the audit is a link of one chain: its
-- link is the digest of the link before it and of what the row holds. Every other table has a sum over the digests of its rows, which
-- moves with each row that is written, changed or removed. The triggers that write both are made by the service for every table that
-- there is (server/db/proof), after each migration, so that a new table cannot be left out; so are the first links and sums, over what
-- stands in the tables by then.
CREATE TABLE record_links (
  id INTEGER PRIMARY KEY,
  -- Which table, by record_chains, and which of its rows.
  chain_id INTEGER NOT NULL,
  row_id INTEGER NOT NULL,
  -- 1: the row was taken away again, as when an import is undone.
  removed INTEGER NOT NULL DEFAULT 0 CHECK (removed IN (0, 1)),
  link BLOB NOT NULL CHECK (length(link) = 32)
) STRICT;
--> statement-breakpoint
CREATE TRIGGER record_links_no_update BEFORE UPDATE ON record_links BEGIN SELECT RAISE(ABORT, 'a link of the record is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER record_links_no_delete BEFORE DELETE ON record_links BEGIN SELECT RAISE(ABORT, 'a link of the record is never rewritten'); END;
--> statement-breakpoint
-- The tables whose rows are linked. Where an upgrade has changed their columns, all rows are linked again as they are from then on:
-- links before that stand, and can no longer be worked out from the rows.
CREATE TABLE record_chains (
  id INTEGER PRIMARY KEY,
  table_name TEXT NOT NULL UNIQUE,
  -- In the order in which they are digested, separated by spaces.
  columns TEXT NOT NULL,
  -- The first link that the rows as they are now account for.
  from_link INTEGER NOT NULL
) STRICT;
--> statement-breakpoint
CREATE TABLE table_sums (
  id INTEGER PRIMARY KEY,
  table_name TEXT NOT NULL UNIQUE,
  -- How many rows, how often they have been written, two sums over their digests, and a checksum of all that (server/db/proof/sums.ts).
  state BLOB NOT NULL CHECK (length(state) = 48)
) STRICT;
--> statement-breakpoint
CREATE TRIGGER table_sums_no_delete BEFORE DELETE ON table_sums
  WHEN EXISTS (SELECT 1 FROM sqlite_master m WHERE m.type = 'table' AND m.name = OLD.table_name)
  BEGIN SELECT RAISE(ABORT, 'the sum of a table stays as long as the table'); END;
--> statement-breakpoint
-- What did not hold when an upgrade made the sums and links anew. It is not forgotten by being upgraded.
CREATE TABLE proof_findings (
  id INTEGER PRIMARY KEY,
  found_at INTEGER NOT NULL,
  words TEXT NOT NULL
) STRICT;
--> statement-breakpoint
CREATE TRIGGER proof_findings_no_update BEFORE UPDATE ON proof_findings BEGIN SELECT RAISE(ABORT, 'what was found is never rewritten'); END;
--> statement-breakpoint
CREATE TRIGGER proof_findings_no_delete BEFORE DELETE ON proof_findings BEGIN SELECT RAISE(ABORT, 'what was found is never rewritten'); END;
