-- CreateTable
CREATE TABLE "account_link" (
    "id" UUID NOT NULL,
    "hash" TEXT NOT NULL,
    "account_id" UUID NOT NULL,
    "email" TEXT,
    "created_at" TIMESTAMPTZ(3) NOT NULL,
    "expires_at" TIMESTAMPTZ(3) NOT NULL,
    "used_at" TIMESTAMPTZ(3),

    CONSTRAINT "account_link_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "account_link_hash_key" ON "account_link"("hash");

-- CreateIndex
CREATE INDEX "account_link_account_id_idx" ON "account_link"("account_id");
