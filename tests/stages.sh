#!/usr/bin/env bash
# Every test, stage by stage; a failed stage does not hide the ones after it.
set -uo pipefail
cd "$(dirname "$0")/.."
export STOCKPLAN_DEBUG=1
# The arrays are small: threads of the linear algebra library only fight for the cores.
export OPENBLAS_NUM_THREADS=1
export HYPOTHESIS_PROFILE=${CI:+ci}
# Every worker of every stage reads the tests: keep them compiled.
export PYTHONDONTWRITEBYTECODE=
pytest=(.venv/bin/python -m pytest --durations=5)
on_all_cores=("${pytest[@]}" -n "$(nproc)" --dist worksteal)
failed=()
started=$SECONDS

stage() {
    local name=$1 from=$SECONDS
    shift
    printf '\n=== %s\n' "$name"
    "$@" || failed+=("$name")
    printf '=== %s: %d s\n' "$name" "$((SECONDS - from))"
}

postgres=(bash tests/with_postgres.sh)
in_browser=tests/pages/in_browser
# What pages show comes from selectors and services that are tested on both databases. The pages themselves, the demo
# plant, the open data and what is drawn from the API's document go through PostgreSQL with FULL=1 alone: with them the
# stages take more than 25 minutes.
on_sqlite_alone=(--ignore tests/pages --ignore tests/demo --ignore tests/real_data --ignore tests/api/test_schema_fuzz.py)
[ -n "${FULL:-}" ] && on_sqlite_alone=(--ignore "$in_browser")
# Few: to read all the others as well takes longer than they do.
mapfile -t alone < <(grep -rl --include='test_*.py' 'pytest\.mark\.alone' tests)

bash tests/system_packages.sh || exit 1
# The static checks need one core; the other one compiles for all workers meanwhile.
.venv/bin/python -m tests.compile_first &
compiling=$!
stage "static checks" bash tests/static_checks.sh
wait "$compiling" || failed+=("compilation")
# What runs one by one leaves cores idle, so it runs beside the stages before its own; its words are kept until then.
one_by_one_words=$(mktemp)
"${postgres[@]}" "${pytest[@]}" "${alone[@]}" -m "database and alone" >"$one_by_one_words" 2>&1 &
one_by_one=$!
end_of_one_by_one() {
    local status=0
    wait "$one_by_one" || status=$?
    cat "$one_by_one_words"
    rm "$one_by_one_words"
    return "$status"
}
stage "SQLite" "${on_all_cores[@]}" tests --ignore "$in_browser"
stage "PostgreSQL" "${postgres[@]}" "${on_all_cores[@]}" tests "${on_sqlite_alone[@]}" -m "database and not alone"
stage "PostgreSQL, one by one" end_of_one_by_one
stage "browser, SQLite" "${on_all_cores[@]}" "$in_browser"
# How a page looks does not depend on the database; what the browser does to it may.
[ -n "${FULL:-}" ] && stage "browser, PostgreSQL" env -u PAGE_PICTURES "${postgres[@]}" "${on_all_cores[@]}" "$in_browser" \
    --ignore "$in_browser/test_every_page.py"

printf '\nAll stages: %d s\n' "$((SECONDS - started))"
if [ "${#failed[@]}" -gt 0 ]; then
    printf 'FAILED: %s\n' "${failed[@]}"
    exit 1
fi
echo "Every stage passed."
