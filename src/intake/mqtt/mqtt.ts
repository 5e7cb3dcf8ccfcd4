import type { FastifyInstance } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { holdBroker } from './broker.ts';
import { onOneInstance } from './lease.ts';
import { readBroker } from './settings.ts';

/**
 * Listens to the broker while the service runs, on one instance at a time.
 * @throws Error for settings that do not fit
 */
export function listenToBroker(app: FastifyInstance, service: Service): void {
  const settings = readBroker(service.config);
  if (settings === null) return;
  let end: () => Promise<void> = async () => undefined;
  app.addHook('onReady', async () => {
    end = onOneInstance(service.pool.options.connectionString ?? '', () => holdBroker(service, settings));
  });
  app.addHook('onClose', () => end());
}
