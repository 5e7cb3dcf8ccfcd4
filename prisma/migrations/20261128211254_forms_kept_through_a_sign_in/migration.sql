-- CreateTable
CREATE TABLE "kept_form" (
    "id" UUID NOT NULL,
    "sealed" BYTEA NOT NULL,
    "expires_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "kept_form_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "kept_form_expires_at_idx" ON "kept_form"("expires_at");
