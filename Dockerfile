# One static binary and nothing else, run by nobody in particular. Serial ports and
# the group that owns them are given when a container is started; see
# docker-compose.yml.
FROM node:22-bookworm-slim AS page
WORKDIR /src/logger/page/web
COPY logger/page/web/package.json logger/page/web/package-lock.json ./
RUN npm ci --ignore-scripts --no-audit --no-fund
COPY logger/page/web/ ./
RUN npm run --silent check && npm run --silent build

FROM golang:1.26-bookworm AS build
WORKDIR /src
COPY go.mod go.sum ./
RUN go mod download
COPY . .
COPY --from=page /src/logger/page/web/dist/ logger/page/web/dist/
ARG VERSION=unknown
RUN CGO_ENABLED=0 go build -trimpath -ldflags "-s -w -X main.version=${VERSION}" -o /out/soakline ./cmd/soakline \
 && install -d -m 0700 /out/book

FROM scratch
COPY --from=build /etc/ssl/certs/ca-certificates.crt /etc/ssl/certs/ca-certificates.crt
COPY --from=build /usr/share/zoneinfo/ /usr/share/zoneinfo/
COPY --from=build /out/soakline /soakline
COPY --from=build --chown=65532:65532 /out/book/ /var/lib/soakline/
USER 65532:65532
WORKDIR /var/lib/soakline
VOLUME /var/lib/soakline
EXPOSE 8725
HEALTHCHECK --interval=30s --timeout=20s CMD ["/soakline", "doctor", "--quick", "--bench", "/etc/soakline/bench.yaml"]
ENTRYPOINT ["/soakline"]
CMD ["serve", "--bench", "/etc/soakline/bench.yaml"]
