-- CreateTable
CREATE TABLE "wrong_try" (
    "key" TEXT NOT NULL,
    "tries" INTEGER NOT NULL,
    "last_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "wrong_try_pkey" PRIMARY KEY ("key")
);

-- CreateIndex
CREATE INDEX "wrong_try_last_at_idx" ON "wrong_try"("last_at");
