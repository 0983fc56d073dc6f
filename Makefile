# Every target makes its own virtual environment and installs what it needs.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: demo test lint bench fuzz clean

# Tests start the program again and again: modules are compiled once, not at each start.
unexport PYTHONDONTWRITEBYTECODE

# Time for each reader. [s]
FUZZ_SECONDS ?= 60

demo: $(VENV)/.demo
	$(BIN)/strikeoff demo --out demo-out
	@echo "Open demo-out/index.html"

test: lint
	$(BIN)/pytest --numprocesses auto --dist loadscope --no-loadscope-reorder

lint: $(VENV)/.dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: $(VENV)/.dev
	$(BIN)/python -m bench

fuzz: $(VENV)/.dev
	$(BIN)/pip install --quiet 'atheris>=2.3'
	for reader in $$($(BIN)/python fuzz/guided.py fuzz-out); do \
	  $(BIN)/python fuzz/guided.py fuzz-out $$reader -max_total_time=$(FUZZ_SECONDS) || exit 1; \
	done

$(VENV)/bin/python:
	$(PYTHON) -m venv $(VENV)

$(VENV)/.demo: pyproject.toml | $(VENV)/bin/python
	$(BIN)/pip install --quiet --editable '.[demo]'
	@touch $@

$(VENV)/.dev: pyproject.toml | $(VENV)/bin/python
	$(BIN)/pip install --quiet --editable '.[dev]'
	@touch $@

clean:
	rm -rf $(VENV) demo-out fuzz-out
