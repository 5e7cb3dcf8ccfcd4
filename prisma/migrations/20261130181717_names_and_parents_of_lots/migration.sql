-- CreateIndex
CREATE INDEX "lot_parent_id_idx" ON "lot"("parent_id");

-- CreateIndex
CREATE INDEX "identification_scientific_name_idx" ON "identification"("scientific_name");

-- A code that is typed or scanned is looked for at every site, of lots that are gone as well.
CREATE INDEX lot_own_code_key ON lot (own_code_key(own_code)) WHERE own_code <> '';
