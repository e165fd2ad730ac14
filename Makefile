# Sectionary: make run, make test, make build, make bench. The targets install what is missing.
SHELL := /bin/bash
GO ?= go
# gles: the smaller OpenGL binding; migrated_fynedo: the window keeps to its event loop; openjp2: JPEG 2000 scans.
JP2 := $(shell pkg-config --exists libopenjp2 2>/dev/null && echo ,openjp2)
DESK_TAGS := gles,migrated_fynedo$(JP2)
PURE := $(GO) list ./... | grep -v -e '^sectionary/app$$' -e '/windowtest$$'

.PHONY: run build prompt desk test vet test-core test-jp2 test-race test-window bench fuzz shots clean

run: ## the main job: in a window on the practice lab, or without a display as files
	@if [ -n "$$DISPLAY$$WAYLAND_DISPLAY" ]; then \
	  .ci/packages run && $(MAKE) --no-print-directory desk && bin/sectionary-desk -practice; \
	else \
	  echo "No display here: the same main job, without a window." && \
	  $(MAKE) --no-print-directory prompt && .ci/mainjob out/main-job-$$(date +%Y%m%d-%H%M%S); \
	fi

build: ## bin/sectionary (the prompt, static) and bin/sectionary-desk (the window)
	@.ci/packages build
	@$(MAKE) --no-print-directory prompt desk

prompt:
	CGO_ENABLED=0 $(GO) build -o bin/sectionary ./app/cli

desk:
	$(GO) build -tags $(DESK_TAGS) -o bin/sectionary-desk ./app

test: ## everything: installs what tests need, vets, tests, drives the real window
	@.ci/packages test
	@$(MAKE) --no-print-directory vet test-core test-jp2 test-race build test-window
	@echo "All tests passed."

vet:
	@test -z "$$(gofmt -l $$(git ls-files '*.go'))" || { gofmt -l $$(git ls-files '*.go'); echo "run gofmt on these"; exit 1; }
	CGO_ENABLED=0 $(GO) vet $$($(PURE))
	$(GO) vet -tags gles ./app ./app/windowtest

test-core: ## all packages but the driver of the window; needs neither cgo nor a display
	CGO_ENABLED=0 $(GO) test -timeout 30m $$($(PURE))

test-jp2: ## the tables of scans once more, with JPEG 2000
	@if pkg-config --exists libopenjp2; then echo "$(GO) test -tags openjp2 ./slices/scan/..."; $(GO) test -timeout 20m -tags openjp2 ./slices/scan/...; \
	else echo "libopenjp2 is not installed: JPEG 2000 is tested only as refused"; fi

test-race: ## the packages where goroutines meet
	$(GO) test -race -short -timeout 20m ./app/bench ./atlas

test-window: ## the real window under Xvfb
	$(GO) test -timeout 30m -count=1 ./app/windowtest

bench: ## figures, never a pass or a fail; beside reference tools in the same run where named
	@.ci/packages bench
	CGO_ENABLED=0 $(GO) test -run '^$$' -bench . -skip Walk80Faces -benchmem -timeout 60m $$($(PURE))
	@echo "== a walk of 80 faces, alone in its process for its most memory"
	CGO_ENABLED=0 $(GO) test -run '^$$' -bench Walk80Faces -benchtime 1x -timeout 30m ./app/bench | grep Benchmark
	@echo "== scans beside dcmtk (below 1 is faster than dcmtk)"
	@testdata/gen/scan_bench.sh
	@echo "== frame codings beside gdcm and CharLS, 512x512x16"
	@work=$$(mktemp -d) && /usr/bin/python3 testdata/gen/codec_bench.py $$work/pack && \
	  CODEC_BENCH_PACK=$$work/pack $(GO) test -run '^$$' -bench Pack ./slices/scan/codec/... | grep -v '^ok\|^PASS\|^goos\|^goarch'; rm -rf $$work

clean:
	rm -rf bin out
