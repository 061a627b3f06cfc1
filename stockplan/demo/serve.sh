#!/usr/bin/env bash
# The demo from nothing to a served page: a fresh SQLite database, the invented plant up to yesterday, its make list.
set -euo pipefail
cd "$(dirname "$0")/../.."
port=${PORT:-8000}
manage=(.venv/bin/python manage.py)

mkdir -p var
rm -rf var/demo var/demo.sqlite3*
[ -s var/demo-secret ] || .venv/bin/python -c 'import secrets; print(secrets.token_urlsafe(50))' >var/demo-secret
STOCKPLAN_SECRET_KEY=$(cat var/demo-secret)
export STOCKPLAN_SECRET_KEY
export DATABASE_URL="sqlite:///$PWD/var/demo.sqlite3"

step() { printf '\n%s\n' "$1"; }
step "1/5 Creating the database"
"${manage[@]}" migrate --verbosity 0
step "2/5 Inventing the plant and its two years of orders, up to yesterday"
"${manage[@]}" make_demo_plant var/demo --last-day "$(date -d yesterday +%F)"
step "3/5 Loading the plant"
"${manage[@]}" load_plant var/demo
step "4/5 Forecasting, setting stock targets, computing the make list"
"${manage[@]}" make_list
step "5/5 Opening the site"
"${manage[@]}" collectstatic --noinput --verbosity 0
"${manage[@]}" create_demo_people --port "$port"
# Browsers open connections ahead of use: a worker without threads would wait for their first word and serve nobody.
exec .venv/bin/gunicorn stockplan.wsgi --preload --workers 2 --threads 16 --bind "127.0.0.1:$port" --log-level warning
