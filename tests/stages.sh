#!/usr/bin/env bash
# Every test, stage by stage; a failed stage does not hide the ones after it.
set -uo pipefail
cd "$(dirname "$0")/.."
export STOCKPLAN_DEBUG=1
# The arrays are small: threads of the linear algebra library only fight for the cores.
export OPENBLAS_NUM_THREADS=1
export HYPOTHESIS_PROFILE=${CI:+ci}
pytest=(.venv/bin/python -m pytest --durations=5)
failed=()
started=$SECONDS

stage() {
    local name=$1 from=$SECONDS
    shift
    printf '\n=== %s\n' "$name"
    "$@" || failed+=("$name")
    printf '=== %s: %d s\n' "$name" "$((SECONDS - from))"
}

bash tests/system_packages.sh || exit 1
stage "static checks" bash tests/static_checks.sh
stage "SQLite" "${pytest[@]}" -n 2 -m "not browser and not fuzz"
stage "PostgreSQL" bash tests/with_postgres.sh "${pytest[@]}" -n 2 -m "database and not alone"
stage "PostgreSQL, one by one" bash tests/with_postgres.sh "${pytest[@]}" -m "database and alone"
stage "browser" "${pytest[@]}" -m browser
stage "API fuzz" "${pytest[@]}" -m fuzz

printf '\nAll stages: %d s\n' "$((SECONDS - started))"
if [ "${#failed[@]}" -gt 0 ]; then
    printf 'FAILED: %s\n' "${failed[@]}"
    exit 1
fi
echo "Every stage passed."
