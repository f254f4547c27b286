# Two commands for a newcomer: `make demo` and `make test`.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
TSC := tests/javascript/node_modules/typescript/bin/tsc
SOURCES := $(shell find crates -name '*.rs' -o -name Cargo.toml) Cargo.toml Cargo.lock .cargo/config.toml pyproject.toml
export PIP_DISABLE_PIP_VERSION_CHECK = 1

.PHONY: install dev demo test bench lint clean

install: $(VENV)/.installed
dev: $(VENV)/.installed-dev

$(VENV)/.made: tools/preflight.sh
	@sh tools/preflight.sh
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --upgrade 'pip>=25.1'
	$(BIN)/python -m pip install --quiet 'maturin>=1.14,<2'
	@touch $@

$(VENV)/.installed: $(VENV)/.made $(SOURCES)
	@sh tools/preflight.sh
	$(BIN)/maturin develop --release --locked
	@touch $@

$(VENV)/.installed-dev: $(VENV)/.installed pyproject.toml
	$(BIN)/python -m pip install --quiet --group dev
	@touch $@

# Only the checks need Node; it comes from PyPI with the other tools of development.
$(TSC): tests/javascript/package.json $(VENV)/.installed-dev
	$(BIN)/npm install --prefix tests/javascript --no-package-lock --no-audit --no-fund --loglevel=error
	@touch $@

demo: install
	$(BIN)/python demo/run.py

lint: dev $(TSC)
	cargo fmt --all --check
	cargo clippy --workspace --all-targets --locked -- -D warnings
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports --no-logo
	$(BIN)/stubtest variorum._core
	$(BIN)/node $(TSC) -p tests/javascript

test: lint
	cargo test --workspace --locked --release
	$(BIN)/python -m pytest

bench: dev
	$(BIN)/python -m pytest benches --benchmark-enable --benchmark-only -o testpaths=benches

clean:
	rm -rf $(VENV) target
