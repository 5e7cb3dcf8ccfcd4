-- CreateEnum
CREATE TYPE "GrowthForm" AS ENUM ('branching', 'fingers', 'plates', 'maze', 'honeycomb', 'lobed', 'disc', 'tentacles', 'toadstool', 'polyps');

-- AlterTable
ALTER TABLE "kind" ADD COLUMN "growth_form" "GrowthForm";


-- Kinds of the library that a farm has already.
UPDATE kind SET growth_form = known.form::"GrowthForm"
  FROM (VALUES
    ('brain-corals', 'maze'),
    ('goniastrea-retiformis', 'honeycomb'),
    ('dipsastraea-favus', 'honeycomb'),
    ('dipsastraea-speciosa', 'honeycomb'),
    ('favites-pentagona', 'honeycomb'),
    ('favites-complanata', 'honeycomb'),
    ('cyphastrea-serailia', 'honeycomb'),
    ('fleshy-corals', 'lobed'),
    ('blastomussa-wellsi', 'polyps'),
    ('micromussa-lordhowensis', 'polyps'),
    ('homophyllia-australis', 'disc'),
    ('cynarina-lacrymalis', 'disc'),
    ('fungia-fungites', 'disc'),
    ('long-tentacled-corals', 'tentacles'),
    ('mushrooms', 'disc'),
    ('plating-corals', 'plates'),
    ('small-polyp-corals', 'branching'),
    ('montipora-digitata', 'fingers'),
    ('montipora-capricornis', 'plates'),
    ('porites-cylindrica', 'fingers'),
    ('soft-corals', 'toadstool'),
    ('sinularia-flexibilis', 'fingers'),
    ('lobophytum-pauciflorum', 'fingers'),
    ('xenia-umbellata', 'polyps'),
    ('briareum-violaceum', 'polyps'),
    ('zoanthids', 'polyps')
  ) AS known (code, form)
 WHERE kind.code = known.code;

-- What a lot is drawn with: its newest photo, or the shape its kind grows in.
CREATE VIEW lot_face AS
SELECT lot.id AS lot_id, coalesce(kind.growth_form, parent.growth_form) AS growth_form, newest.id AS photo_id
  FROM lot
  JOIN kind ON kind.id = lot.kind_id
  LEFT JOIN kind AS parent ON parent.id = kind.parent_id
  LEFT JOIN LATERAL (SELECT id FROM photo WHERE photo.lot_id = lot.id AND voided_at IS NULL
                      ORDER BY taken_at DESC, id DESC LIMIT 1) AS newest ON true;
