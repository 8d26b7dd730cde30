#!/usr/bin/env bash
# A station that is told what to do by lines, from the wheel that `make python` installed.
cd "$(dirname "$0")" && exec ../../.venv/bin/python -m tests.lines
