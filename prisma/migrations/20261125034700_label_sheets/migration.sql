-- CreateTable
CREATE TABLE "label_sheet" (
    "id" UUID NOT NULL,
    "name" TEXT NOT NULL,
    "page_width_mm" DOUBLE PRECISION NOT NULL,
    "page_height_mm" DOUBLE PRECISION NOT NULL,
    "width_mm" DOUBLE PRECISION NOT NULL,
    "height_mm" DOUBLE PRECISION NOT NULL,
    "rows" INTEGER NOT NULL,
    "columns" INTEGER NOT NULL,
    "top_mm" DOUBLE PRECISION NOT NULL,
    "left_mm" DOUBLE PRECISION NOT NULL,
    "gap_x_mm" DOUBLE PRECISION NOT NULL,
    "gap_y_mm" DOUBLE PRECISION NOT NULL,
    "last_used_at" TIMESTAMPTZ(3),
    "retired_at" TIMESTAMPTZ(3),
    "version" INTEGER NOT NULL DEFAULT 1,

    CONSTRAINT "label_sheet_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "label_sheet_name_key" ON "label_sheet"("name");

ALTER TABLE label_sheet ADD CONSTRAINT label_sheet_fits CHECK (
  rows > 0 AND columns > 0 AND width_mm > 0 AND height_mm > 0 AND top_mm >= 0 AND left_mm >= 0 AND gap_x_mm >= 0 AND gap_y_mm >= 0
  AND left_mm + columns * width_mm + (columns - 1) * gap_x_mm <= page_width_mm + 0.01
  AND top_mm + rows * height_mm + (rows - 1) * gap_y_mm <= page_height_mm + 0.01);

-- What a farm finds at first; sizes are common ones of label stock in general.
INSERT INTO label_sheet (id, name, page_width_mm, page_height_mm, width_mm, height_mm, rows, columns, top_mm, left_mm, gap_x_mm, gap_y_mm) VALUES
  (gen_random_uuid(), 'A4, 3 x 8 of 70 x 37 mm', 210, 297, 70, 37, 8, 3, 0.5, 0, 0, 0),
  (gen_random_uuid(), 'One by one, 62 x 38 mm', 62, 38, 62, 38, 1, 1, 0, 0, 0, 0);
