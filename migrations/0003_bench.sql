-- Sounds that were recorded at the bench. The file is under DATA_DIR/voices, named by the SHA-256 of its content; the log
-- entry of kind 'voice' names the row in its value_json. duration_ms is what the recording device said; null when it said
-- nothing.
CREATE TABLE voices (
  id INTEGER PRIMARY KEY,
  sha256 TEXT NOT NULL UNIQUE CHECK (length(sha256) = 64),
  media_type TEXT NOT NULL CHECK (media_type IN ('audio/webm', 'audio/ogg', 'audio/mp4', 'audio/wav')),
  byte_size INTEGER NOT NULL CHECK (byte_size > 0),
  duration_ms INTEGER CHECK (duration_ms > 0),
  stored_at INTEGER NOT NULL,
  stored_by INTEGER NOT NULL REFERENCES people (id)
) STRICT;
--> statement-breakpoint

-- Why goods of several lots may go out together on this line; '' where nobody has said.
ALTER TABLE order_lines ADD COLUMN mixing_note TEXT NOT NULL DEFAULT '';
