-- The mark of a farm is a picture with a size.
ALTER TABLE site_mark ADD CONSTRAINT site_mark_picture CHECK (octet_length(image) > 0 AND width BETWEEN 1 AND 10000 AND height BETWEEN 1 AND 10000);
