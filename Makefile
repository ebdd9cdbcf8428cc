# Everything below works from a bare clone: Python 3.11 to 3.13 and make; node 20 for the camera.

PYTHON ?= python3
PORT ?= 8000
PROCESSES ?= 3
BIN := .venv/bin
# Where it is set, every process of a run would compile the same modules again.
unexport PYTHONDONTWRITEBYTECODE
UV := $(BIN)/uv pip install --quiet --python $(BIN)/python --verify-hashes -r pyproject.toml -c constraints.txt
NODE := $(shell command -v npm 2>/dev/null)

.PHONY: setup dev demo test test-sqlite test-pg compiled check bench serve backup restore lock

setup: .venv/.runtime .venv/.assets

dev: .venv/.dev .venv/.assets

.venv/.uv: constraints.txt
	@$(PYTHON) -c 'import sys; v = sys.version_info[:2]; sys.exit(None if (3, 11) <= v < (3, 14) else f"Pourback wants Python 3.11 to 3.13; this is {sys.version.split()[0]}. Say which with PYTHON=/path/to/python3.11.")'
	@test -x $(BIN)/python || $(PYTHON) -m venv .venv
	@sed -n '/^uv==/,/[^\\]$$/p' constraints.txt > .venv/uv.txt
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes --no-deps -r .venv/uv.txt
	@touch $@

.venv/.runtime: .venv/.uv pyproject.toml
	@echo "Installing what Pourback needs ..."
	@$(UV) --compile-bytecode
	@touch $@

.venv/.dev: .venv/.runtime
	@echo "Installing what the tests and checks need ..."
	@$(UV) --group test --group lint
	@touch $@

.venv/.assets: .venv/.uv package-lock.json
ifeq ($(NODE),)
	@echo "npm is not here, so the QR reader for the camera is missing: tags can still be typed or scanned with a handheld."
else
	@npm ci --ignore-scripts --no-audit --no-fund --silent && touch $@ || echo "npm could not fetch the QR reader for the camera: tags can still be typed or scanned with a handheld. The next start tries again."
endif

demo: setup
	@POURBACK_DEMO=1 $(BIN)/python manage.py run_demo --port $(PORT) $(if $(LAN),--lan)

test: test-sqlite test-pg

test-sqlite: dev
	$(BIN)/python -m pytest -n $(PROCESSES)

test-pg: dev
	DB=pg $(BIN)/python -m pytest -n $(PROCESSES)

# On a fresh checkout, processes that begin at once each compile all tests, and what those import.
compiled: dev
	@$(BIN)/python -m pytest --collect-only -qq >/dev/null || true

ifdef POURBACK_TEST_ONCE
test-sqlite test-pg: compiled
endif

check: dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	POURBACK_DEMO=1 $(BIN)/mypy inventory jobs config
	$(BIN)/lint-imports
	POURBACK_DEMO=1 $(BIN)/python manage.py makemigrations --check --dry-run
	POURBACK_SECRET_KEY=$$($(BIN)/python -c 'import secrets; print(secrets.token_urlsafe(60))') POURBACK_HOSTS=yard.example \
		$(BIN)/python manage.py check --deploy --fail-level WARNING
	$(BIN)/djlint templates --lint --quiet

bench: dev
	POURBACK_DEMO=1 $(BIN)/python -m tests.bench

serve: setup
	$(BIN)/python manage.py migrate --no-input
	$(BIN)/python manage.py collectstatic --no-input -v0
	$(BIN)/python manage.py serve --port $(PORT)

backup: setup
	@$(BIN)/python manage.py backup $(if $(FILE),--file $(FILE))

restore: setup
	@test -n "$(FILE)" || { echo "Say which archive: make restore FILE=var/backups/..."; exit 2; }
	@$(BIN)/python manage.py restore $(FILE)

lock: .venv/.uv
	$(BIN)/uv pip compile pyproject.toml --group setup --group test --group lint --universal --python-version 3.11 \
		--generate-hashes --no-emit-index-url --no-annotate --no-header --quiet -o constraints.txt
