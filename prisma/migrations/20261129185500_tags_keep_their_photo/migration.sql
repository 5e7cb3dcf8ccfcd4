-- AlterTable
ALTER TABLE "tag" ADD COLUMN     "photo_chosen" BOOLEAN NOT NULL DEFAULT false,
ADD COLUMN     "photo_id" UUID;

-- AddForeignKey
ALTER TABLE "tag" ADD CONSTRAINT "tag_photo_id_fkey" FOREIGN KEY ("photo_id") REFERENCES "photo"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- What the schema cannot say.
ALTER TABLE tag ADD CONSTRAINT tag_photo_chosen CHECK (photo_id IS NULL OR photo_chosen);

CREATE OR REPLACE FUNCTION keep_tag() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF TG_OP = 'DELETE' OR (NEW.token, NEW.lot_id, NEW.pieces, NEW.issued_at, NEW.record, NEW.signature, NEW.photo_chosen)
     IS DISTINCT FROM (OLD.token, OLD.lot_id, OLD.pieces, OLD.issued_at, OLD.record, OLD.signature, OLD.photo_chosen)
     OR NEW.photo_id IS DISTINCT FROM OLD.photo_id THEN
    RAISE EXCEPTION 'tag_frozen: an issued tag is frozen; withdraw it' USING ERRCODE = 'restrict_violation', CONSTRAINT = 'tag_frozen';
  END IF;
  RETURN NEW;
END $$;
