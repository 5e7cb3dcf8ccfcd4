-- AlterTable
ALTER TABLE "slot" ALTER COLUMN "flow" DROP NOT NULL,
ALTER COLUMN "flow" DROP DEFAULT;

-- Slots had 'low' without anybody having said so: a rack that was entered by hand, whose flow was never set, has no known flow.
UPDATE "slot" SET flow = NULL
 WHERE flow = 'low' AND NOT jet
   AND EXISTS (SELECT FROM journal_line WHERE subject_id = slot.rack_id AND kind = 'rack.created')
   AND NOT EXISTS (SELECT FROM journal_line WHERE subject_id = slot.rack_id AND kind = 'slot_flow.changed');
