# `make demo` and `make test` do all the set-up on a fresh Debian-like machine. The others are their parts.
SHELL := /bin/bash
.SHELLFLAGS := -euo pipefail -c
.DEFAULT_GOAL := help
# .venv-node is there only where the system's own Node is too old (.ci/setup phone).
export PATH := $(CURDIR)/.venv-node/bin:$(HOME)/.cargo/bin:$(PATH)
export CARGO_TERM_PROGRESS_WHEN ?= auto

# Days that `make test` simulates; the printed seed replays one.
SEEDS ?= 2000
# Workloads: which (comma-separated, empty for all) and how many cards.
ONLY ?=
N ?= 2000
ARGS ?=
# What the small library is for: the kind of machine that phones are.
APP_TARGET ?= aarch64-unknown-linux-gnu

step = @printf '\n== %s\n' "$(1)"

.PHONY: help web phone test-phone ffi ffi-app test-kotlin bench-kotlin swift test-swift python test-python bench-python test-languages bars release setup demo test lint deny unit checks independent simulate crash workloads bench

help:
	@echo "make demo            build, then watch an invented salon's day (ARGS=--exit to stop at its end,"
	@echo "                     ARGS=--phones to let phones of this network in)"
	@echo "make test            everything that the continuous integration runs"
	@echo "make lint unit       formatting and lints; unit, property and scenario tests"
	@echo "make checks          the arithmetic against published sources, as one table"
	@echo "make independent     the wire format and the arithmetic against other people's libraries"
	@echo "make simulate SEEDS=n   whole salon days with every fault, from seeds"
	@echo "make crash           kill -9 of relay and stations at random points"
	@echo "make workloads ONLY=W1 N=2000   measured work, one JSON line a run"
	@echo "make web             the core and its types for browsers (bindings/README.md)"
	@echo "make phone           the phone app, and a relay that hands it out"
	@echo "make test-phone      the station and the app in a browser, against a relay"
	@echo "make test-kotlin     the library for Kotlin on a JVM, against a relay"
	@echo "make bench-kotlin    what calls cost from Kotlin, and in Rust itself"
	@echo "make test-swift      the Swift package: its sources; compiled and tried where a toolchain is present"
	@echo "make test-languages  a day of stations in four languages (after the three before and test-phone)"
	@echo "make ffi-app         the library for native apps, made small"
	@echo "make test-python     the wheel for Python: types, and days with a relay and other stations"
	@echo "make bench-python    what calls cost from Python, and in Rust itself"
	@echo "make bars            what the app promises in time and size, measured in a browser"
	@echo "make bench           the arithmetic by itself"

setup:
	@.ci/setup

demo: phone
	$(call step,an invented salon opens)
	@target/release/tailcomb demo $(ARGS)

test:
	@.ci/setup python deny phone
	@$(MAKE) --no-print-directory lint deny unit checks independent simulate crash test-phone test-kotlin test-python test-swift test-languages
	@$(MAKE) --no-print-directory demo ARGS="--exit --pace 0"
	$(call step,all of it holds)

lint:
	$(call step,formatting)
	cargo fmt --all --check
	$(call step,lints)
	cargo clippy --locked --workspace --all-targets --all-features -- -D warnings

deny:
	$(call step,licences and sources of everything in the lock file)
	cargo deny --locked check bans licenses sources

unit:
	$(call step,unit, property and scenario tests)
	cargo test --locked --workspace --all-features

checks:
	$(call step,published checks)
	cargo run --locked --quiet -p tailcomb-tests --bin checks

independent:
	@.ci/setup python
	$(call step,the frozen samples opened by other libraries, from the written format alone)
	.venv/bin/python tests/python/open_frame.py
	$(call step,a client's file held against its written schema)
	.venv/bin/python tests/python/client_file.py
	$(call step,the arithmetic against other libraries)
	cargo run --locked --quiet -p tailcomb-tests --bin checks -- --json | .venv/bin/python tests/published/independent.py

web:
	$(call step,the core for browsers)
	bindings/web/build.sh

phone:
	@.ci/setup phone
	@$(MAKE) --no-print-directory web
	$(call step,the phone app)
	cd bindings/phone && npm ci --no-audit --no-fund --silent && npm run --silent build
	node server/pack-app.mjs bindings/phone/dist server/app
	$(call step,a relay that hands it out)
	cargo build --locked --release -p tailcomb-server

# Chromium, phones, a relay and terminal stations; what is only for tests lies in tests/phone.
test-phone: phone
	$(call step,types of the browser's half)
	cd bindings/web && npm ci --no-audit --no-fund --silent && npm run --silent check
	cd tests/phone && npm ci --no-audit --no-fund --silent && npm run --silent bench
	$(call step,the station and the app in a browser)
	cd tests/phone && npm test --silent

# The compiler works within Maven's process and wants memory for 45,000 generated lines.
test-kotlin:
	@.ci/setup kotlin
	$(call step,Kotlin: the library and the sources that it brings)
	bindings/kotlin/generate.sh
	cargo build --locked --release -p tailcomb-server
	$(call step,Kotlin: compiling, then a day on a JVM against a relay)
	cd bindings/kotlin && MAVEN_OPTS=-Xmx3g mvn -B --no-transfer-progress test

bench-kotlin:
	@.ci/setup kotlin
	@bindings/kotlin/generate.sh
	@cd bindings/kotlin && MAVEN_OPTS=-Xmx3g mvn -B -q test-compile
	$(call step,what calls cost in Rust and from Kotlin)
	@cargo run --locked --release --quiet -p tailcomb-ffi --example calls
	@cd bindings/kotlin && java -cp "target/classes:target/test-classes:$$(cat target/classpath)" tailcomb.test.BenchKt

# The library for native apps, in one profile with relay and stations. The generator's speed does not matter: it is built as
# tests are. Kotlin and Python build both in scripts of their own.
ffi:
	$(call step,the library for native apps)
	cargo build --locked --release -p tailcomb-ffi
	cargo build --locked -p tailcomb-ffi --features bindgen --bin tailcomb-bindgen

# The same for packing: small, or it fails. Not part of the tests, since it is another build of everything.
ffi-app:
	@.ci/setup app $(if $(filter aarch64-unknown-linux-gnu,$(APP_TARGET)),aarch64)
	$(call step,the library for native apps, made small)
	bindings/ffi/build-app.sh $(APP_TARGET)

swift: ffi
	$(call step,the sources of the Swift package)
	bindings/swift/generate.sh target/release/libtailcomb_ffi.so target/debug/tailcomb-bindgen

test-swift: ffi
	$(call step,the Swift package: its sources are what the generator gives today)
	bindings/swift/generate.sh target/release/libtailcomb_ffi.so target/debug/tailcomb-bindgen --check
	bindings/swift/test.sh target/release

# Needs what test-phone, test-kotlin and test-python build.
test-languages:
	$(call step,a day of stations in Kotlin and Python with a browser's and a terminal's)
	cd tests/phone && npm ci --no-audit --no-fund --silent && npm run --silent bench
	node --test tests/languages/day.test.mjs

# Into the same .venv as the tests' own libraries.
python:
	@.ci/setup python
	$(call step,the wheel for Python)
	bindings/python/build.sh
	.venv/bin/pip install -q --disable-pip-version-check --force-reinstall --no-deps target/wheels/tailcomb-*.whl

test-python: python
	cargo build --locked --release -p tailcomb-server
	$(call step,Python: types of the package and of programs that use it)
	cd bindings/python && ../../.venv/bin/mypy tests samples stubs.py && ../../.venv/bin/mypy -p tailcomb
	$(call step,Python: days with a relay and other stations)
	cd bindings/python && ../../.venv/bin/python -m pytest

bench-python: python
	$(call step,what calls cost in Rust and from Python)
	@cargo run --locked --release --quiet -p tailcomb-ffi --example calls
	@cd bindings/python && ../../.venv/bin/python -m tests.bench

bars: phone
	cd tests/phone && npm ci --no-audit --no-fund --silent && npm run --silent bench
	$(call step,the app's time and size)
	cd tests/phone && npm run --silent bars

release:
	$(call step,building with optimisation)
	cargo build --locked --release -p tailcomb-server -p tailcomb-tests --bins

simulate: release
	$(call step,$(SEEDS) simulated salon days)
	target/release/simulate --seeds $(SEEDS) --jobs $$(nproc)

crash: release
	$(call step,kill -9 at random points of a day)
	target/release/crash --points 200

workloads: setup release
	@target/release/workloads --only "$(ONLY)" --cards $(N) $(ARGS)

bench: setup
	cargo bench --locked -p tailcomb-trade
