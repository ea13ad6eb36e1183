# make demo   everything from a fresh clone to the findings on the demonstration case
# make test   the same set-up, then every test, the reference checks in Python and the notebooks included
# make notebooks  what the notebooks read, then each one from top to bottom
# make bench  measures the terrain engine against the textbook and against Python, and writes docs/performance.md
# make browser  the overview page and the printed sheets in a real browser
# make pictures  the README's pictures, from the demonstration case
# make check  formatting, lints and documentation, warnings as errors

PYTHON ?= python3
export PYTHON
BINARY := $(or $(CARGO_TARGET_DIR),target)/release/fallwright
VENV := .venv

.PHONY: demo test bench notebooks run-notebooks binary setup setup-test fmt lint doc check

demo: setup
	$(MAKE) --no-print-directory binary
	$(BINARY) demo demo/case --overwrite
	$(BINARY) outlets demo/case/case.toml --out demo/out --overwrite

test: setup-test
	cargo test --workspace
	$(MAKE) --no-print-directory binary $(VENV)/requirements.txt
	FALLWRIGHT_BIN="$(BINARY)" $(VENV)/bin/python -m pytest tests/reference
	$(MAKE) --no-print-directory run-notebooks
	$(MAKE) --no-print-directory run-browser

notebooks: setup-test
	$(MAKE) --no-print-directory binary $(VENV)/requirements.txt
	$(MAKE) --no-print-directory run-notebooks

# Files of the demonstration case are all that the notebooks read.
run-notebooks:
	$(BINARY) demo demo/case --overwrite --quiet
	$(BINARY) outlets demo/case/case.toml --out demo/out --overwrite --quiet
	$(BINARY) watershed demo/case/case.toml --outlet D-07 --out demo/watershed --overwrite --quiet
	$(BINARY) trace demo/case/case.toml --parcel 0527-030-005-00420 --json --quiet > demo/trace.geojson
	$(VENV)/bin/python -m pytest -p no:cacheprovider notebooks

# Takes about an hour, 60 GB of disk for the largest raster and 14 GB of memory. `BENCH="1000 3000"` measures those sections alone; the
# others keep what was found before (`.venv/bin/python benches/run.py --help` names them).
bench: setup-test
	cargo build --release --package fallwright-benches --package fallwright-cli
	$(MAKE) --no-print-directory $(VENV)/requirements.txt
	$(VENV)/bin/python benches/run.py $(dir $(BINARY))fallwright-benches $(BINARY) $(BENCH)
	$(VENV)/bin/python benches/page.py

browser: setup-test
	$(MAKE) --no-print-directory binary $(VENV)/requirements.txt
	$(MAKE) --no-print-directory run-browser

# In a real Chromium; the packages are those of the lock file. Pictures of the pages go to tests/browser/out.
run-browser:
	npm ci --prefix tests/browser --silent --no-audit --no-fund
	cd tests/browser && FALLWRIGHT_BIN="$(BINARY)" FALLWRIGHT_PYTHON="$(VENV)/bin/python" npm test --silent

# The pictures that the README shows, made from the demonstration case.
pictures: setup-test
	$(MAKE) --no-print-directory binary
	npm ci --prefix tests/browser --silent --no-audit --no-fund
	cd tests/browser && FALLWRIGHT_BIN="$(BINARY)" node pictures.mjs ../../docs/pictures

# Used by the demonstration and by the reference checks; `cargo test` builds its own, with overflow checks.
binary:
	cargo build --release --package fallwright-cli

setup:
	@scripts/setup.sh build

setup-test:
	@scripts/setup.sh test

# The copy of the requirements says which ones the environment was made from.
$(VENV)/requirements.txt: notebooks/requirements.txt tests/reference/requirements.txt
	@echo "making $(VENV) with the Python packages of $^"
	$(PYTHON) -m venv --clear $(VENV)
	$(VENV)/bin/python -m pip install --quiet --disable-pip-version-check --only-binary :all: --requirement $<
	cat $^ > $@

fmt:
	cargo fmt --all

lint:
	cargo clippy --workspace --all-targets -- -D warnings

doc:
	RUSTDOCFLAGS="-D warnings" cargo doc --workspace --no-deps

check:
	cargo fmt --all --check
	$(MAKE) --no-print-directory lint doc
