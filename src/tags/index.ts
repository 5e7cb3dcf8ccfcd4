import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { labelPages } from './labels/labels.pages.ts';
import { markPages } from './labels/mark.pages.ts';
import { publicTagPages } from './public/public.pages.ts';
import { rackCardPages } from './rack-cards/rack-cards.pages.ts';
import { scanPages } from './scan/scan.pages.ts';
import { stockLabelPages } from './stock-labels/stock-labels.pages.ts';
import { orderTagPages } from './tags/order-tags.pages.ts';
import { severalTagPages } from './tags/several.pages.ts';
import { tagPages } from './tags/tags.pages.ts';

/** Tags: the frozen care record of pieces, its label and its public page. */
export async function tagsArea(app: FastifyInstance, service: Service): Promise<void> {
  await markPages(app, service);
  labelPages(app, service);
  stockLabelPages(app, service);
  rackCardPages(app, service);
  scanPages(app, service);
  severalTagPages(app, service);
  orderTagPages(app, service);
  tagPages(app, service);
  publicTagPages(app, service);
}
