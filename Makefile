# Clothcast: `make demo` to see it, `make test` to test it. PYTHON=… names the Python to use.

PY := .venv/bin/python
CLOTHCAST := .venv/bin/clothcast
RUNTIME := .venv/runtime.stamp
TESTS := .venv/test.stamp
KERNEL := .venv/kernel.stamp
# Two workers; idle ones take over tests of busy ones. Tests are compiled once and kept, whatever the
# environment asks for: each worker, and each process that a test starts, would compile them anew.
PYTEST := PYTHONDONTWRITEBYTECODE= $(PY) -m pytest -n 2 --dist worksteal
UV_COMPILE := UV_CUSTOM_COMPILE_COMMAND="make lock" .venv/bin/uv pip compile --universal --python-version 3.11 \
	--fork-strategy fewest --generate-hashes --no-emit-index-url --quiet

.DEFAULT_GOAL := help
.PHONY: help demo plan test soak check bench mutants setup upgrade release lock guide clean

help:
	@echo "make demo    the demo site: comparison in the terminal, then the pages (PORT=8000)"
	@echo "make plan    the comparison in the terminal alone"
	@echo "make test    every test, statistical ones small (NO_BROWSER=1 without Chromium)"
	@echo "make soak    the statistical tests at full counts; writes tests/soak_record.md"
	@echo "make check   lint, format and strict types"
	@echo "make bench   the figures to reach (JSON=FILE also writes them)"
	@echo "make mutants faults one at a time that the tests must notice (KIND=--made or --planted, ONLY=sim/decide or a room, ALL=1)"
	@echo "make setup   the environment alone, tests' libraries included"
	@echo "make upgrade what is stored, brought to this Clothcast's shape, copied first"
	@echo "make release the archive of the committed tree, in dist/"
	@echo "make lock    the lock files anew"
	@echo "make guide   app/guide/inputs.md anew from the table of inputs"
	@echo "make clean   removes the environment and caches; data/ stays"

demo: $(KERNEL)
	@$(CLOTHCAST) demo $(if $(PORT),--port $(PORT))

plan: $(KERNEL)
	@$(CLOTHCAST) demo --plan-only

test: $(TESTS) $(KERNEL)
	@$(PY) -m tests.chromium
	@COUNT_LINES=workers $(PYTEST)

soak: $(TESTS) $(KERNEL)
	@$(PY) -m tests.chromium
	@$(PYTEST) -m soak --soak --soak-record tests/soak_record.md

check: $(TESTS)
	@$(PY) -m ruff check .
	@$(PY) -m ruff format --check .
	@$(PY) -m mypy

bench: $(TESTS) $(KERNEL)
	@$(PY) -m tests.bench $(if $(JSON),--json $(JSON))

setup: $(TESTS) $(KERNEL)

$(RUNTIME): requirements-build.lock requirements.lock pyproject.toml .ci/setup.py
	@sh .ci/setup runtime

$(TESTS): requirements-test.lock $(RUNTIME)
	@sh .ci/setup test

mutants: $(TESTS)
	@$(PY) -m tests.mutants --record tests/mutation/record.md $(if $(ALL),--most 0) $(KIND) $(ONLY)

# Compiled once and kept on disk, so that no page and no test waits for it.
$(KERNEL): $(RUNTIME) $(wildcard sim/day/kernel/*.py sim/day/*.py sim/physics/*.py)
	@echo "Compiling the day (about a minute the first time)"
	@$(PY) -m sim.day.kernel
	@$(PY) -m compileall -q app sim
	@$(PY) -m app.pages.compiled
	@touch $@

upgrade: $(KERNEL)
	@$(CLOTHCAST) upgrade

release: $(RUNTIME)
	@$(PY) .ci/release.py

lock: $(TESTS)
	@$(UV_COMPILE) --group pyproject.toml:build -o requirements-build.lock
	@$(UV_COMPILE) pyproject.toml -c requirements-build.lock -o requirements.lock
	@$(UV_COMPILE) pyproject.toml --group test -c requirements-build.lock -c requirements.lock \
		-o requirements-test.lock

guide: $(RUNTIME)
	@$(PY) -m app.pages.guide

clean:
	@rm -rf .venv .pytest_cache .hypothesis .mypy_cache .ruff_cache *.egg-info build dist
	@find . -name __pycache__ -type d -prune -exec rm -rf {} +
