# desorb: everything starts from python3 (3.11 or newer), its venv module and make.
# Every target with a line after ## is listed by `make`.

.DEFAULT_GOAL := help
.DELETE_ON_ERROR:
SHELL := /bin/bash

PYTHON ?= python3
SERVE ?= 1
VENV := .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check install --quiet
LOCKED := $(PIP) --require-hashes --no-deps --no-build-isolation --only-binary :all:

# One stamp for each lock: a second run installs nothing.
RUNTIME := $(VENV)/installed-runtime
DEV := $(VENV)/installed-dev
ORACLE := $(VENV)/installed-oracle
PACKAGE := $(VENV)/installed-package

UV_VERSION := 0.13.9
COMPILE := pip compile --quiet --universal --python-version 3.11 --generate-hashes \
	--no-header --no-emit-index-url --no-emit-find-links

.PHONY: help demo test check bench soak oracle docs browser lock clean

help: ## list the targets
	@awk -F ':.*## ' '/^[a-z]+:.*## / {printf "make %-8s %s\n", $$1, $$2}' $(firstword $(MAKEFILE_LIST))

demo: $(PACKAGE) ## install, show desorb at work, and open the page (SERVE=0 make demo: without the page)
	@mkdir -p demo-output; home=$$(mktemp -d demo-output/store-XXXXXX) && \
	$(BIN)/desorb --home "$$home" demo && \
	if [ "$(SERVE)" != 0 ]; then exec $(BIN)/desorb --home "$$home" serve; fi

test: check browser ## static checks and all quick tests (installs Chromium where it is missing, as root)
	@$(BIN)/python -m pytest -n 2

check: $(DEV) $(PACKAGE) ## static checks only: ruff, mypy, import contracts
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .
	@$(BIN)/mypy --strict src
	@$(BIN)/lint-imports --no-logo

bench: $(DEV) $(PACKAGE) ## run every benchmark in benchmarks/
	@set -e; for file in benchmarks/[a-z]*.py; do \
		name=$$(basename "$$file" .py); \
		if [ -f "$$file" ] && [ "$$name" != mutate ]; then echo "== $$name"; $(BIN)/python -m "benchmarks.$$name"; fi; \
	done

soak: $(DEV) $(ORACLE) $(PACKAGE) ## long runs: soak and oracle tests, then the mutation run
	@$(BIN)/python -m pytest -n 2 -m "soak or oracle" --hypothesis-profile=soak || [ $$? -eq 5 ]
	@if [ -f benchmarks/mutate.py ]; then $(BIN)/python -m benchmarks.mutate; else echo "No benchmarks/mutate.py: no mutation run."; fi

oracle: $(DEV) $(ORACLE) $(PACKAGE) ## compare moist air and transport with independent packages
	@$(BIN)/python -m pytest -m oracle || [ $$? -eq 5 ]

docs: $(DEV) $(PACKAGE) ## run every example, remake docs/verification.md, check the links between pages
	@set -e; for file in examples/[0-9a-z]*.py; do \
		if [ -f "$$file" ]; then echo "== $$file"; $(BIN)/python "$$file"; fi; \
	done
	@$(BIN)/desorb physics --page > docs/verification.md
	@$(BIN)/python -m pytest -q tests/test_house.py -k links

browser: ## install Debian's Chromium if it is missing (needs root)
	@if command -v chromium > /dev/null; then chromium --version; \
	elif [ "$$(id -u)" = 0 ] && command -v apt-get > /dev/null; then \
		apt-get update -qq && DEBIAN_FRONTEND=noninteractive \
			apt-get install -y -qq --no-install-recommends chromium > /dev/null && chromium --version; \
	else \
		echo "#### SKIPPED: no Chromium here and no root to install it. Browser tests will not run. ####" >&2; \
		echo "#### Fix: as root, apt-get install chromium ####" >&2; \
		[ "$${CI:-}" != true ]; \
	fi

lock: ## remake the locks (UPGRADE=--upgrade: with newer versions)
	@set -e; tool=$$(mktemp -d); trap 'rm -rf "$$tool"' EXIT; \
	$(PYTHON) -m venv "$$tool"; \
	"$$tool/bin/python" -m pip --disable-pip-version-check install --quiet "uv==$(UV_VERSION)"; \
	for name in requirements requirements-build requirements-dev requirements-oracle; do \
		"$$tool/bin/uv" $(COMPILE) $(UPGRADE) "$$name.in" --output-file "$$name.lock" > /dev/null; \
		echo "$$name.lock"; \
	done
	@if grep -n '://' requirements*.lock; then echo "A lock names an address: see the lines above." >&2; exit 1; fi

clean: ## remove everything that make has made, back to a fresh clone
	rm -rf $(VENV) build dist src/*.egg-info mutants htmlcov .coverage .coverage.* \
		.mypy_cache .ruff_cache .pytest_cache .import_linter_cache .hypothesis
	find src tests benchmarks examples -name __pycache__ -type d -prune -exec rm -rf {} +

# The steps below make the environment.

$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
		|| { echo "desorb needs Python 3.11 or newer: make PYTHON=python3.12 ..." >&2; exit 1; }
	@if ! $(PYTHON) -c 'import ensurepip, venv' 2> /dev/null; then \
		if [ "$$(id -u)" = 0 ] && command -v apt-get > /dev/null; then \
			apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq python3-venv > /dev/null; \
		else \
			echo "Python's venv module is missing. Fix: as root, apt-get install python3-venv" >&2; exit 1; \
		fi; \
	fi
	@echo "Making $(VENV) ..."
	@rm -rf $(VENV)
	@$(PYTHON) -m venv $(VENV)

$(RUNTIME): requirements-build.lock requirements.lock | $(BIN)/python
	@echo "Installing what desorb needs to run (about a minute the first time) ..."
	@$(LOCKED) -r requirements-build.lock -r requirements.lock
	@touch $@

# bagit exists as source only; its build tools come with the runtime step.
$(DEV): requirements-dev.lock $(RUNTIME) | $(BIN)/python
	@echo "Installing what the tests need ..."
	@$(LOCKED) --no-binary bagit -r requirements-dev.lock
	@touch $@

# psychrolib exists as source only.
$(ORACLE): requirements-oracle.lock $(RUNTIME) | $(BIN)/python
	@echo "Installing the independent formulas ..."
	@$(LOCKED) --no-binary psychrolib -r requirements-oracle.lock
	@touch $@

$(PACKAGE): pyproject.toml requirements.in $(RUNTIME) | $(BIN)/python
	@$(PIP) --no-deps --no-build-isolation --editable .
	@touch $@
