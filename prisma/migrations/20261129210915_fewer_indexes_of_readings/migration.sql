-- It held the same columns as the index of all readings, which voided ones hardly lengthen: each value of a probe was kept
-- in both.
DROP INDEX reading_standing;

-- Hardly any reading takes the place of another.
DROP INDEX reading_supersedes_id_key;
CREATE UNIQUE INDEX reading_supersedes_id_key ON reading (supersedes_id) WHERE supersedes_id IS NOT NULL;
