-- CreateIndex
CREATE INDEX "journal_line_account_id_at_idx" ON "journal_line"("account_id", "at");
