-- CreateTable
CREATE TABLE "tag_key" (
    "key" TEXT NOT NULL,

    CONSTRAINT "tag_key_pkey" PRIMARY KEY ("key")
);
