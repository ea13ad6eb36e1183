# make demo   everything from a fresh clone to the findings on the demonstration case
# make test   the same set-up, then every test, the reference checks in Python included
# make check  formatting, lints and documentation, warnings as errors

PYTHON ?= python3
export PYTHON
BINARY := $(or $(CARGO_TARGET_DIR),target)/release/fallwright
VENV := .venv

.PHONY: demo test binary setup setup-test fmt lint doc check

demo: setup
	$(MAKE) --no-print-directory binary
	$(BINARY) demo demo/case --overwrite
	$(BINARY) outlets demo/case/case.toml --out demo/out --overwrite

test: setup-test
	cargo test --workspace
	$(MAKE) --no-print-directory binary $(VENV)/requirements.txt
	FALLWRIGHT_BIN="$(BINARY)" $(VENV)/bin/python -m pytest tests/reference

# Used by the demonstration and by the reference checks; `cargo test` builds its own, with overflow checks.
binary:
	cargo build --release --package fallwright-cli

setup:
	@scripts/setup.sh build

setup-test:
	@scripts/setup.sh test

# The copy of the requirements says which ones the environment was made from.
$(VENV)/requirements.txt: tests/reference/requirements.txt
	@echo "making $(VENV) with the Python packages of $<"
	$(PYTHON) -m venv --clear $(VENV)
	$(VENV)/bin/python -m pip install --quiet --disable-pip-version-check --only-binary :all: --requirement $<
	cp $< $@

fmt:
	cargo fmt --all

lint:
	cargo clippy --workspace --all-targets -- -D warnings

doc:
	RUSTDOCFLAGS="-D warnings" cargo doc --workspace --no-deps

check:
	cargo fmt --all --check
	$(MAKE) --no-print-directory lint doc
