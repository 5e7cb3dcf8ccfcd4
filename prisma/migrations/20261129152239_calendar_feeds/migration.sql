-- CreateTable
CREATE TABLE "calendar_feed" (
    "id" UUID NOT NULL,
    "account_id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "hash" TEXT NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL,
    "last_asked_at" TIMESTAMPTZ(3),
    "ended_at" TIMESTAMPTZ(3),

    CONSTRAINT "calendar_feed_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "calendar_feed_hash_key" ON "calendar_feed"("hash");

-- AddForeignKey
ALTER TABLE "calendar_feed" ADD CONSTRAINT "calendar_feed_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "calendar_feed" ADD CONSTRAINT "calendar_feed_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- One address of a person and site at a time: a new one ends the one before.
CREATE UNIQUE INDEX calendar_feed_one ON calendar_feed (account_id, site_id) WHERE ended_at IS NULL;
