import type { FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';

/** The address under which the public reaches the service: as configured, else as it was asked. */
export const publicBase = (service: Service, request: FastifyRequest): string =>
  service.config.PUBLIC_URL ?? `${request.protocol}://${request.host}`;

/** The address of a tag's public page, which its QR code leads to. */
export const publicAddress = (service: Service, request: FastifyRequest, token: string): string =>
  new URL(`/t/${token}`, publicBase(service, request)).href;
