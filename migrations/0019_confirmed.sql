-- A client id means one content. What was sent with it is kept as a digest (SHA-256, hex), so that the same id with other content is
-- refused instead of being answered with the first entry. Null: nobody knows any more what was sent, as of entries that were recorded
-- before this, and of those that the service writes itself.
ALTER TABLE log_entries ADD COLUMN content_digest TEXT CHECK (length(content_digest) = 64);
--> statement-breakpoint
ALTER TABLE stock_ledger ADD COLUMN content_digest TEXT CHECK (length(content_digest) = 64);
--> statement-breakpoint
ALTER TABLE cost_lines ADD COLUMN content_digest TEXT CHECK (length(content_digest) = 64);
