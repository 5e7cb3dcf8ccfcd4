-- CreateTable
CREATE TABLE "rack_photograph" (
    "id" UUID NOT NULL,
    "rack_id" UUID NOT NULL,
    "taken_at" TIMESTAMPTZ(3) NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "account_id" UUID,
    "sha256" TEXT NOT NULL,
    "width_mm" DOUBLE PRECISION NOT NULL,
    "depth_mm" DOUBLE PRECISION NOT NULL,
    "residual_mm" DOUBLE PRECISION NOT NULL,
    "blur_mm" DOUBLE PRECISION NOT NULL,
    "tilt_deg" DOUBLE PRECISION NOT NULL,
    "camera_mm" DOUBLE PRECISION,
    "straight" BYTEA,
    "straight_bytes" INTEGER NOT NULL,
    "original" BYTEA,
    "original_bytes" INTEGER NOT NULL DEFAULT 0,
    "voided_at" TIMESTAMPTZ(3),
    "void_reason" TEXT,

    CONSTRAINT "rack_photograph_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "rack_photograph_lot" (
    "id" UUID NOT NULL,
    "photograph_id" UUID NOT NULL,
    "lot_id" UUID NOT NULL,
    "photo_id" UUID,
    "slots" TEXT NOT NULL,
    "whiteness" DOUBLE PRECISION,
    "whiteness_error" DOUBLE PRECISION,
    "green_red" DOUBLE PRECISION,
    "blue_yellow" DOUBLE PRECISION,
    "area_mm2" DOUBLE PRECISION,
    "area_low_mm2" DOUBLE PRECISION,
    "area_high_mm2" DOUBLE PRECISION,
    "outline" JSONB,
    "left_out" TEXT,

    CONSTRAINT "rack_photograph_lot_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "rack_photograph_keeping" (
    "site_id" UUID NOT NULL,
    "keep_originals" BOOLEAN NOT NULL DEFAULT false,
    "most_mb" INTEGER NOT NULL DEFAULT 2000,
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "rack_photograph_keeping_pkey" PRIMARY KEY ("site_id")
);

-- CreateIndex
CREATE INDEX "rack_photograph_rack_id_taken_at_idx" ON "rack_photograph"("rack_id", "taken_at");

-- CreateIndex
CREATE UNIQUE INDEX "rack_photograph_lot_photo_id_key" ON "rack_photograph_lot"("photo_id");

-- CreateIndex
CREATE INDEX "rack_photograph_lot_lot_id_idx" ON "rack_photograph_lot"("lot_id");

-- CreateIndex
CREATE UNIQUE INDEX "rack_photograph_lot_photograph_id_lot_id_key" ON "rack_photograph_lot"("photograph_id", "lot_id");

-- AddForeignKey
ALTER TABLE "rack_photograph" ADD CONSTRAINT "rack_photograph_rack_id_fkey" FOREIGN KEY ("rack_id") REFERENCES "rack"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "rack_photograph" ADD CONSTRAINT "rack_photograph_account_id_fkey" FOREIGN KEY ("account_id") REFERENCES "account"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "rack_photograph_lot" ADD CONSTRAINT "rack_photograph_lot_photograph_id_fkey" FOREIGN KEY ("photograph_id") REFERENCES "rack_photograph"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "rack_photograph_lot" ADD CONSTRAINT "rack_photograph_lot_lot_id_fkey" FOREIGN KEY ("lot_id") REFERENCES "lot"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "rack_photograph_lot" ADD CONSTRAINT "rack_photograph_lot_photo_id_fkey" FOREIGN KEY ("photo_id") REFERENCES "photo"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "rack_photograph_keeping" ADD CONSTRAINT "rack_photograph_keeping_site_id_fkey" FOREIGN KEY ("site_id") REFERENCES "site"("id") ON DELETE RESTRICT ON UPDATE CASCADE;

-- What the schema cannot say.
CREATE UNIQUE INDEX rack_photograph_once ON rack_photograph (rack_id, sha256) WHERE voided_at IS NULL;
ALTER TABLE rack_photograph
  ADD CONSTRAINT rack_photograph_figures CHECK (width_mm > 0 AND depth_mm > 0 AND residual_mm >= 0 AND blur_mm >= 0 AND tilt_deg BETWEEN 0 AND 90 AND camera_mm > 0),
  ADD CONSTRAINT rack_photograph_room CHECK (straight_bytes >= 0 AND original_bytes >= 0),
  ADD CONSTRAINT rack_photograph_void_reason CHECK ((voided_at IS NULL) = (void_reason IS NULL));
ALTER TABLE rack_photograph_lot
  ADD CONSTRAINT rack_photograph_lot_measured CHECK ((left_out IS NULL) = (num_nonnulls(whiteness, whiteness_error, green_red, blue_yellow, area_mm2, area_low_mm2, area_high_mm2, outline) = 8)),
  ADD CONSTRAINT rack_photograph_lot_nothing CHECK (left_out IS NULL OR num_nonnulls(whiteness, whiteness_error, green_red, blue_yellow, area_mm2, area_low_mm2, area_high_mm2, outline) = 0),
  ADD CONSTRAINT rack_photograph_lot_figures CHECK (whiteness_error > 0 AND area_low_mm2 > 0 AND area_mm2 > 0 AND area_low_mm2 <= area_high_mm2);
ALTER TABLE rack_photograph_keeping ADD CONSTRAINT rack_photograph_keeping_room CHECK (most_mb BETWEEN 50 AND 1000000);
