-- AddForeignKey
ALTER TABLE "undoable_change" ADD CONSTRAINT "undoable_change_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "attached_file" ADD CONSTRAINT "attached_file_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;
