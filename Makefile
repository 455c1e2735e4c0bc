# Every target sets itself up in .venv; Python 3.11 or newer is all that must be there.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
JOBS ?= 2

.PHONY: demo test lint types unit stress bench lock clean

# The runtime alone, for the demo.
$(VENV)/.run: requirements.lock pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	touch $@

# Everything the tests compare against, too.
$(VENV)/.test: requirements-test.lock pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements-test.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	touch $@ $(VENV)/.run

demo: $(VENV)/.run
	$(BIN)/jigs make templates/tide-lever/job.toml --out out

test: lint types unit

lint: $(VENV)/.test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: $(VENV)/.test
	$(BIN)/mypy

unit: $(VENV)/.test
	$(BIN)/pytest -n $(JOBS)

# Long lanes: random regions against other kernels, fuzzing, coverage trials.
stress: $(VENV)/.test
	$(BIN)/pytest -n $(JOBS) tests/stress

# Speed, as ratios measured in one run.
bench: $(VENV)/.test
	for script in tests/bench/bench_*.py; do $(BIN)/python $$script || exit 1; done

# Write the lock files again: names, versions and hashes, no host.
lock: $(VENV)/.test
	$(BIN)/python -m pip install --quiet uv
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header --no-annotate \
		--no-emit-index-url --no-emit-find-links pyproject.toml requirements-build.in -o requirements.lock
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header --no-annotate \
		--no-emit-index-url --no-emit-find-links --extra test pyproject.toml requirements-build.in -o requirements-test.lock

clean:
	rm -rf $(VENV) .mypy_cache .ruff_cache .pytest_cache
