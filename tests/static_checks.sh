#!/usr/bin/env bash
# Form, lint, types, the import rule, and migrations that match the models.
set -euo pipefail
cd "$(dirname "$0")/.."
bin=.venv/bin
export STOCKPLAN_DEBUG=1

$bin/ruff format --check .
$bin/ruff check .
$bin/mypy stockplan inventory forecasting
$bin/lint-imports
$bin/python manage.py makemigrations --check --dry-run
