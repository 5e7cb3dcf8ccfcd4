-- CreateTable
CREATE TABLE "probe_waiting" (
    "name" TEXT NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL,
    "value" DOUBLE PRECISION NOT NULL,
    "unit" TEXT,
    "note" TEXT NOT NULL DEFAULT '',
    "access_key_id" UUID,
    "account_id" UUID,

    CONSTRAINT "probe_waiting_pkey" PRIMARY KEY ("name","at")
);

-- AddForeignKey
ALTER TABLE "probe_waiting" ADD CONSTRAINT "probe_waiting_name_fkey" FOREIGN KEY ("name") REFERENCES "probe_name"("name") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "probe_waiting" ADD CONSTRAINT "probe_waiting_access_key_id_fkey" FOREIGN KEY ("access_key_id") REFERENCES "access_key"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "probe_waiting" ADD CONSTRAINT "probe_waiting_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;
