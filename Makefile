# Thin wrappers over run.py, which needs nothing but Python 3.11+.
PYTHON ?= python3
.PHONY: setup demo test check-slow bench lint lock system system-slow clean

setup: ; $(PYTHON) run.py setup
demo: ; $(PYTHON) run.py demo
test: ; $(PYTHON) run.py test
check-slow: ; $(PYTHON) run.py check-slow
bench: ; $(PYTHON) run.py bench
lint: ; $(PYTHON) run.py lint
# Writes requirements.lock and requirements-dev.lock anew from pyproject.toml.
lock: ; $(PYTHON) run.py lock
# Installs Debian's chromium and certutil with apt (needs root): only the browser tests use them.
system: ; $(PYTHON) run.py system
# Installs nginx and caddy as well, and unpacks two data packages in .tools: only `make check-slow` uses them.
system-slow: ; $(PYTHON) run.py system-slow
clean: ; rm -rf .venv .tools build dist var field/node_modules field/dist src/broodsweep/web/static
