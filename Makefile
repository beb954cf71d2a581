# `make` or `make help` lists what there is. Every target that a person may type has a `##` line.
.DEFAULT_GOAL := help
SHELL := /bin/bash
PYTHON ?= python3
BIN := .venv/bin
EMBEDDED := $(BIN)/python -m config.embedded
# Tests get a PostgreSQL and a Redis-protocol server of their own, started for the one command; tools that only read
# the settings get no server. Two runs at once need two names: `make test NAME=other`; what runs side by side within
# one has APART, a name of its own.
NAME ?= test
WITH_SERVERS = $(EMBEDDED) exec --name $(NAME)$(APART) --
WITH_SETTINGS = $(EMBEDDED) exec --name $(NAME)$(APART) --offline --
# What is installed is compiled when first imported: a small part of it ever is.
INSTALL := $(BIN)/python -m pip install --quiet --disable-pip-version-check --no-input --no-compile --require-hashes
# The pure ones are measured (every branch of the pure packages has its test); measuring everything, or the core
# against other programs and every answer (tests/against), would cost minutes.
# With worksteal (of pytest-xdist) the tests of a file stay together, and what they share is made by one worker.
TIMES ?= 100
PYTEST = $(BIN)/python -m pytest -n $$(nproc)
PURE := tests/core tests/rules

.PHONY: help
help:  ## List the targets
	@grep -hE '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:[^#]*## */\t/' | expand -t 18

.PHONY: setup
setup: .venv/dev.stamp  ## Make .venv with everything that the demo, the tests and the checks need

.venv/bin/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "Python 3.11 or later is needed")'
	@$(PYTHON) -m venv .venv

.venv/demo.stamp: requirements-demo.txt | .venv/bin/python
	@echo "Installing into .venv; this takes a minute or two."
	@$(INSTALL) -r requirements-demo.txt
	@touch $@

.venv/dev.stamp: requirements-dev.txt | .venv/bin/python
	@echo "Installing into .venv; this takes a minute or two."
	@$(INSTALL) -r requirements-dev.txt
	@touch $@ .venv/demo.stamp

.PHONY: demo
demo: .venv/demo.stamp  ## Start the whole board with a made-up utility; Ctrl-C stops it (PORT=8000 picks the port)
	@exec $(EMBEDDED) demo

# Its parts run two at a time and on one pair of servers: browsers, and tests that wait for servers to die, leave a
# core to the others. One that fails stops none of the others.
.PHONY: test
test:  ## Everything: the checks, the tests, the browser tests (BROWSER=skip leaves those out)
	@$(MAKE) --no-print-directory --jobs=2 setup $(if $(filter skip,$(BROWSER)),,chromium)
	@$(WITH_SERVERS) $(MAKE) --no-print-directory --jobs=2 --keep-going --output-sync WITH_SERVERS= \
	  board $(if $(filter skip,$(BROWSER)),,browser) pure check

.PHONY: board
board: setup  ## The tests of the board, and the core against other programs and every answer
	$(WITH_SERVERS) $(PYTEST) --dist=worksteal tests --ignore=tests/browser $(PURE:%=--ignore=%)

.PHONY: pure
pure: APART := -pure
pure: setup  ## The tests of the pure packages, in which every branch is run
	$(WITH_SETTINGS) $(PYTEST) $(PURE) --cov --cov-report=term-missing:skip-covered

.PHONY: soak
soak: setup  ## The core's properties on thousands of made-up networks each (half an hour)
	$(WITH_SERVERS) $(PYTEST) $(PURE) tests/against --hypothesis-profile=thorough --log-level=INFO -rP

.PHONY: soak-board
soak-board: setup  ## Random days, races and kills of the board, TIMES of each (TIMES=100: some 10 minutes; parts add up)
	$(WITH_SERVERS) env RANDOM_DAYS=$(TIMES) ROUNDS=$(TIMES) KILLS=$(TIMES) SEED=$$(date +%s) \
	  $(BIN)/python -m pytest tests/days tests/races --log-level=INFO -rP --hypothesis-seed=random

.PHONY: mutate
mutate: .venv/mutate.stamp  ## Does a test notice each small change of the core? Goes on where it stopped (MUTATE="--minutes 30")
	$(WITH_SETTINGS) nice -n 19 $(BIN)/python -m tests.mutate $(MUTATE)

.venv/mutate.stamp: requirements-mutate.txt .venv/dev.stamp
	@$(INSTALL) -r requirements-mutate.txt
	@touch $@

.PHONY: check
check: lint types contracts migrate-check schema-check  ## Lint, strict types, import contracts, migrations, API schema

.PHONY: lint
lint: setup  ## Ruff: style and likely mistakes
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

.PHONY: format
format: setup  ## Let ruff rewrite what it can
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

.PHONY: types
types: APART := -types
types: setup  ## Strict mypy
	$(WITH_SETTINGS) $(BIN)/mypy .

.PHONY: contracts
contracts: setup  ## Who may import whom
	$(BIN)/lint-imports

.PHONY: migrate-check
migrate-check: APART := -migrations
migrate-check: setup  ## No model change without its migration
	$(WITH_SERVERS) $(BIN)/python manage.py makemigrations --check --dry-run

SCHEMA = $(WITH_SETTINGS) $(BIN)/python manage.py spectacular --validate --fail-on-warn --file
.PHONY: schema
schema: setup  ## Write the API's schema to docs/openapi.yaml
	$(SCHEMA) docs/openapi.yaml

.PHONY: schema-check
schema-check: APART := -schema
schema-check: setup  ## No change of the API without its schema
	@mkdir -p build
	$(SCHEMA) build/openapi.yaml
	diff -u docs/openapi.yaml build/openapi.yaml || { echo "The API has changed: make schema" >&2; exit 1; }

# Browser tests have a process of their own: an event loop stays behind.
BROWSE = $(WITH_SERVERS) env DJANGO_ALLOW_ASYNC_UNSAFE=1 SHOTS=build/shots $(BIN)/python -m pytest

.PHONY: bench
bench: setup  ## Measure against named peers, as a table and in build/bench.json (some minutes)
	$(WITH_SERVERS) $(BIN)/python -m tests.bench

.PHONY: walk-demo
walk-demo: APART := -walk
walk-demo: setup chromium  ## Play one planned job in three browsers; pictures in build/shots/
	$(BROWSE) tests/browser/test_walk.py

.PHONY: browser
browser: setup  ## The browser tests: the walk, every page, the phone, the keyboard
	@$(MAKE) --no-print-directory chromium  # as a prerequisite it would put what comes after before this
	$(BROWSE) tests/browser

.PHONY: chromium
chromium:  ## Find Chromium for the browser tests, or install it where that takes no password
	@command -v chromium-headless-shell >/dev/null || command -v chromium >/dev/null || \
	  command -v chromium-browser >/dev/null || { \
	  test "$$(id -u)" = 0 && command -v apt-get >/dev/null && apt-get -qq update && \
	  DEBIAN_FRONTEND=noninteractive apt-get -qq install --yes --no-install-recommends \
	    chromium-headless-shell fonts-dejavu-core; } || { \
	  echo "The browser tests need Chromium: install it, or leave them out with BROWSER=skip." >&2; exit 1; }

.PHONY: lock
lock: setup  ## Resolve the requirements anew (LOCK=--upgrade takes newer releases)
	for name in requirements requirements-demo requirements-dev requirements-mutate; do \
	  $(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header --no-annotate \
	    --no-emit-index-url --no-emit-find-links --no-strip-extras $(LOCK) --output-file $$name.txt $$name.in || exit; done

.PHONY: clean
clean:  ## Remove what was built, and the demo's and the tests' data; .venv stays
	rm -rf build var .mypy_cache .pytest_cache .ruff_cache .import_linter_cache .hypothesis .coverage
