# The README's two commands, each with all its own set-up. Nothing outside this folder is touched, but for Debian packages,
# which are only asked for where they are missing and always named first.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
SUDO := $(if $(filter 0,$(shell id -u)),,sudo)
PIP := $(BIN)/python -m pip install --quiet --disable-pip-version-check --only-binary :all:

# What the tests need of the system: a system-call trace, a sound server with no sound card, the loudspeaker library, and a browser.
TEST_PACKAGES := strace pulseaudio pulseaudio-utils libasound2-plugins libportaudio2 chromium

.PHONY: demo test check figures soak fuzz clean packages

demo: $(VENV)/demo-is-ready   ## hear and see a whole session; REALTIME=1 at real pace; MIX=FILE.wav with the cues mixed in
	@$(BIN)/tray-turns demo $(if $(REALTIME),--realtime) $(if $(MIX),--mix "$(MIX)")

test: check                   ## everything: style, types, tests; first side by side, then those that want the machine to themselves
	$(BIN)/python -m pytest -m "not alone" --numprocesses auto --dist loadfile
	$(BIN)/python -m pytest -m alone

check: $(VENV)/test-is-ready packages
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

figures: $(VENV)/test-is-ready   ## the figures that README and DEVELOPERS.md quote
	$(BIN)/python -m tests.benchmarks.demo

soak: $(VENV)/test-is-ready      ## three hundred writers killed in mid-session
	$(BIN)/python -m tests.killing 300

fuzz: $(VENV)/test-is-ready      ## broken stores, events, plans and recordings for ten minutes
	$(BIN)/python -m tests.fuzzing 600

packages:
	@missing=""; for package in $(TEST_PACKAGES); do \
	    dpkg-query -W -f '$${Status}' $$package 2>/dev/null | grep -q "ok installed" || missing="$$missing $$package"; done; \
	if [ -n "$$missing" ]; then echo "Installing what the tests need of the system:$$missing"; \
	    $(SUDO) apt-get update -qq && $(SUDO) env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq $$missing; fi

$(BIN)/python:
	@echo "Setting up in $(VENV) (once, some minutes on a slow line)"
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	    { echo "Tray Turns needs Python 3.11 or later. Name one: make demo PYTHON=python3.12"; exit 1; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { \
	    echo "Python's venv is missing: installing the package python3-venv"; \
	    $(SUDO) apt-get update -qq && $(SUDO) apt-get install -y -qq python3-venv; }
	@$(PYTHON) -m venv $(VENV)
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --upgrade pip

$(VENV)/demo-is-ready: $(BIN)/python pyproject.toml
	@$(PIP) --editable .
	@$(BIN)/python -m compileall -q assistant
	@touch $@

$(VENV)/test-is-ready: $(BIN)/python pyproject.toml
	@$(PIP) --editable '.[test]'
	@touch $@ $(VENV)/demo-is-ready

clean:                        ## take away what was set up
	rm -rf $(VENV) .mypy_cache .ruff_cache .pytest_cache .hypothesis
