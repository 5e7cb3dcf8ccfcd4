-- CreateTable
CREATE TABLE "site_mark" (
    "id" UUID NOT NULL,
    "site_id" UUID NOT NULL,
    "image" BYTEA NOT NULL,
    "width" INTEGER NOT NULL,
    "height" INTEGER NOT NULL,
    "changed_at" TIMESTAMPTZ(3) NOT NULL,

    CONSTRAINT "site_mark_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "site_mark_site_id_key" ON "site_mark"("site_id");

-- AddForeignKey
ALTER TABLE "site_mark" ADD CONSTRAINT "site_mark_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;
