# The two commands that matter: make demo, make test.
GO      ?= go
VERSION ?= $(shell git describe --tags --always --dirty 2>/dev/null || echo unknown)
LDFLAGS  = -s -w -X main.version=$(VERSION)
FUZZTIME ?= 20s

.PHONY: all build page demo test check-tools lint race fuzz bench cross clean

all: build

build: page
	CGO_ENABLED=0 $(GO) build -trimpath -ldflags '$(LDFLAGS)' -o bin/soakline ./cmd/soakline

# The page that the daemon serves, bundled from TypeScript. Nothing is done where
# the bundle is newer than its sources.
PAGE = logger/page/web
page: $(PAGE)/dist/index.html

$(PAGE)/dist/index.html: $(PAGE)/node_modules/.package-lock.json $(PAGE)/build.mjs $(PAGE)/tsconfig.json $(shell find $(PAGE)/src -type f)
	cd $(PAGE) && npm run --silent check && npm run --silent build

$(PAGE)/node_modules/.package-lock.json: $(PAGE)/package.json $(PAGE)/package-lock.json
	@./.ci/tools node npm
	cd $(PAGE) && npm ci --ignore-scripts --no-audit --no-fund
	@touch $@

# The whole job on a simulated bench, from nothing to two verdicts.
demo: build
	./bin/soakline demo

# Everything: what is missing is said in one line before anything runs.
test: check-tools page lint
	$(GO) test -timeout 20m ./...

# Real programs that the tests talk to. As root on Debian they are installed.
NEEDED = prometheus promtool ngspice sox node npm chromium docker-compose influxd victoria-metrics vmauth pdftoppm pdftotext zbarimg aiosmtpd
check-tools:
	@./.ci/tools $(NEEDED)

lint:
	@test -z "$$(gofmt -l .)" || { echo "gofmt differs in:"; gofmt -l .; exit 1; }
	$(GO) vet ./...
	$(GO) tool staticcheck ./...
	$(GO) -C .ci run ./gosec ..

.PHONY: vuln
# Known weaknesses in what the program is built from; asks a database on the net.
vuln:
	$(GO) -C .ci tool govulncheck -C .. ./...

race:
	$(GO) test -race -timeout 30m ./...

# Every fuzz target in turn, FUZZTIME each.
fuzz:
	@set -e; for package in $$($(GO) list ./...); do \
	  for target in $$($(GO) test -list '^Fuzz' $$package | grep '^Fuzz' || true); do \
	    echo "$$package $$target"; \
	    $(GO) test -run '^$$' -fuzz "^$$target$$" -fuzztime $(FUZZTIME) -fuzzminimizetime 10x $$package; \
	  done; \
	done

# Those that take bytes from outside, four at a time: what .ci/run has 30 s each for.
.PHONY: fuzz-outside
OUTSIDE = ./device/scpi ./device ./config ./logger/book ./logger/page
fuzz-outside:
	@./.ci/fuzz $(FUZZTIME) $(OUTSIDE)

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./...

# What a bench costs that nobody looks at: the second minute of the built program with
# sixteen instruments, simulated in another process, ten readings a second each.
.PHONY: idle-cost
idle-cost:
	IDLE_AFTER=62 IDLE_SECONDS=60 $(GO) test -count 1 -v -run '^TestIdleCost$$' ./cmd/soakline

# Debian packages for amd64, arm64 and armhf, in dist. The same commit gives the same
# bytes. try-package installs, starts, upgrades and removes one in a layer over this
# machine's files that is thrown away afterwards; it has to be root.
.PHONY: package try-package
package: page
	$(GO) -C .ci run ./package -project .. -out ../dist

try-package: page
	@./.ci/tools systemd-analyze
	./.ci/package/try

# The platforms that a bench may run on.
cross:
	@set -e; for target in linux/amd64 linux/arm64 linux/arm darwin/arm64 windows/amd64; do \
	  echo "$$target"; \
	  CGO_ENABLED=0 GOARM=6 GOOS=$${target%/*} GOARCH=$${target#*/} $(GO) build -trimpath -o /dev/null ./cmd/soakline; \
	done

clean:
	rm -rf bin dist $(PAGE)/node_modules $(PAGE)/dist/assets $(PAGE)/dist/index.html $(PAGE)/dist/icon.svg
