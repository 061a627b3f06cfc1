#!/usr/bin/env bash
# Runs a command with DATABASE_URL at a PostgreSQL cluster of its own: temporary folder, free port, unprivileged user.
set -euo pipefail
# A bare environment may not look where `runuser` lies.
PATH=$PATH:/usr/sbin:/sbin

bin=$(find /usr/lib/postgresql -name initdb -printf '%h\n' | sort -V | tail -n 1)
folder=$(mktemp -d)
owner=postgres
as_owner() {
    if [ "$(id -u)" -eq 0 ]; then (cd "$folder" && runuser -u "$owner" -- "$@"); else "$@"; fi
}
stop() {
    as_owner "$bin/pg_ctl" -D "$folder/data" -m immediate -w stop >/dev/null 2>&1 || true
    rm -rf "$folder"
}
trap stop EXIT

[ "$(id -u)" -eq 0 ] && chown "$owner" "$folder"
port=$(python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
as_owner "$bin/initdb" -D "$folder/data" -A trust -U stockplan -E UTF8 --locale=C.UTF-8 --no-sync >/dev/null
# Only for tests: nothing here has to outlive a power cut.
as_owner "$bin/pg_ctl" -D "$folder/data" -w -l "$folder/log" start >/dev/null \
    -o "-p $port -k $folder -c listen_addresses=127.0.0.1 -c fsync=off -c full_page_writes=off -c max_connections=200"
DATABASE_URL="postgres://stockplan@127.0.0.1:$port/postgres" "$@"
