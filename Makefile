# The commands of this project. What each one does stands in tools/, one script each.

PY := .venv/bin/python
# Written last by tools/install.sh, so a half-made folder is never taken for a whole one. It holds the folder it was made in:
# a copied or moved tree, or one whose Python went away, is built again.
READY := .venv/.ready
TEST_READY := .venv/.ready-for-tests
ifneq ($(shell [ -x $(PY) ] && cat $(READY) 2>/dev/null),$(CURDIR))
    $(READY): again
endif
ifneq ($(shell [ -x $(PY) ] && cat $(TEST_READY) 2>/dev/null),$(CURDIR))
    $(TEST_READY): again
endif

.DEFAULT_GOAL := help
.PHONY: help install run test soak plant pictures fonts house bench format lock clean again

help:
	@echo 'make install    build the environment in .venv, with the command .venv/bin/topout'
	@echo 'make run        load the demo workshop, print its plan and the address, and serve'
	@echo 'make test       every check: format, lint, types, floors, tests'
	@echo 'make soak       the long variants of the tests'
	@echo 'make plant      plant a sample of faults, one at a time, and say which of them no test notices'
	@echo 'make bench      the benchmarks'
	@echo 'make house      measure the rooms: arrows between them, climbs, lines'
	@echo 'make pictures   screenshots of every page, under docs/pictures, and the guide'"'"'s'
	@echo 'make fonts      cut the typeface for the pages again'
	@echo 'make format     put the code in its format'
	@echo 'make lock       write the two lock files again from pyproject.toml'
	@echo 'make clean      remove the environment and every cache; the demo database in .run stays'

install: $(READY)

$(READY): pyproject.toml requirements.lock tools/install.sh
	@tools/install.sh requirements.lock $(READY)

$(TEST_READY): requirements-dev.lock $(READY)
	@tools/install.sh requirements-dev.lock $(TEST_READY)

run: install
	@$(PY) -m topout serve --demo --data .run

test: $(TEST_READY)
	@$(PY) tools/check.py

soak: $(TEST_READY)
	@$(PY) tools/check.py --soak

plant: $(TEST_READY)
	@$(PY) tools/plant.py

bench: $(TEST_READY)
	@$(PY) benchmarks/run.py

house: $(TEST_READY)
	@$(PY) tools/house.py

pictures: $(TEST_READY)
	@$(PY) tools/pictures.py
	@$(PY) tools/pictures.py --guide

fonts: $(TEST_READY)
	@$(PY) tools/fonts.py

format: $(TEST_READY)
	@$(PY) -m ruff check --fix --quiet
	@$(PY) -m ruff format --quiet

lock: $(TEST_READY)
	@tools/lock.sh

clean:
	rm -rf .venv .uv .proxies .mypy_cache .ruff_cache .pytest_cache .import_linter_cache .hypothesis
	find src tests tools -name __pycache__ -prune -exec rm -rf {} +
