# make demo       everything from a fresh clone to the findings on the demonstration case
# make quick      the Rust tests alone, but for two that take more than a minute each
# make test       every test: Rust, the reference checks in Python, the notebooks, the browser; the time of each at the end
# make check      formatting, lints and documentation, warnings as errors; licences and sources of what it depends on
# make torture    the random tests many times over, each time with other cases
# make notebooks  what the notebooks read, then each one from top to bottom
# make browser    the overview page and the printed sheets in a real browser
# make bench      measures the terrain engine against the textbook and against Python, and writes docs/performance.md
# make pictures   the README's pictures, from the demonstration case

PYTHON ?= python3
export PYTHON
TARGET := $(or $(CARGO_TARGET_DIR),target)
BINARY ?= $(TARGET)/release/fallwright
VENV := .venv

.PHONY: demo quick test torture check notebooks browser bench pictures binary setup setup-test setup-check \
	run-rust run-reference run-notebooks run-browser venv fmt lint doc deny

demo: setup
	$(MAKE) --no-print-directory binary
	$(BINARY) demo demo/case --overwrite
	$(BINARY) outlets demo/case/case.toml --out demo/out --overwrite

# The same bytes for any number of threads and any memory, and every command on a full disk, are left to `make test`.
quick: setup-test
	cargo test --workspace -- --skip any_number_of_threads_and_any_memory --skip full_disk::the_commands_on_a_case

# All parts check the program that `cargo test` builds, with its checks of overflow: one build less, and more is checked. It is as fast as
# the released one within a third. Lines of backtraces are left out, which take minutes to build and change no result.
test: export CARGO_PROFILE_DEV_DEBUG = 0
test: export BINARY = $(TARGET)/debug/fallwright
test: setup-test
	+@scripts/parts.sh run-rust venv run-reference run-notebooks run-browser

run-rust:
	cargo test --workspace

run-reference:
	FALLWRIGHT_BIN="$(BINARY)" $(VENV)/bin/python -m pytest --numprocesses 2 --dist loadscope tests/reference

# Every round draws other random cases; among them are those that compare the engine with the textbook. Twenty rounds make 20,000 cases
# for the second implementation and 2,000 of every shape.
ROUNDS ?= 20
torture: setup-test
	for round in $$(seq $(ROUNDS)); do \
		echo "round $$round of $(ROUNDS)"; \
		PROPTEST_CASES=5000 cargo test --quiet --workspace --lib || exit 1; \
	done
	$(MAKE) --no-print-directory binary venv
	FALLWRIGHT_RANDOM_CASES=$$((1000 * $(ROUNDS))) FALLWRIGHT_RANDOM_KILLS=$$((10 * $(ROUNDS))) $(MAKE) --no-print-directory run-reference

notebooks: setup-test
	$(MAKE) --no-print-directory binary venv
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
	$(MAKE) --no-print-directory venv
	$(VENV)/bin/python benches/run.py $(dir $(BINARY))fallwright-benches $(BINARY) $(BENCH)
	$(VENV)/bin/python benches/page.py

browser: setup-test
	$(MAKE) --no-print-directory binary venv
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

# The program as it is released.
binary:
	cargo build --release --package fallwright-cli

setup:
	@scripts/setup.sh build

setup-test:
	@scripts/setup.sh test

setup-check:
	@scripts/setup.sh check

venv: $(VENV)/requirements.txt

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

# Every crate of the lock file must be at hand for the look at their licences, those of other systems included.
deny:
	cargo fetch --locked
	cargo deny --offline check bans licenses sources

check: setup-check
	cargo fmt --all --check
	$(MAKE) --no-print-directory lint doc deny
