-- CreateIndex
CREATE INDEX "reading_origin_kit_id_idx" ON "reading_origin"("kit_id");

-- ------------------------------------------------------------ what the schema cannot say

-- Each value of a probe was kept in it beside `reading_of_kit`, for 63 bytes and a seventh of what it cost to write one. The newest
-- of a kit in any water is found by the systems that its origins name.
DROP INDEX reading_by_kit;
