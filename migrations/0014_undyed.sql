-- Goods before dyeing may be known by their curve too, and may come with a file of swatches: then they leave with it again.
ALTER TABLE undyed_goods ADD COLUMN spectrum TEXT CHECK (spectrum IS NULL OR json_valid(spectrum));
--> statement-breakpoint
ALTER TABLE undyed_goods ADD COLUMN import_id INTEGER REFERENCES imports (id);
