#!/usr/bin/env bash
# Makes sure that the tests' programs outside Python are there: installs them when root, names them when not.
set -euo pipefail

missing=()
command -v chromium >/dev/null || missing+=(chromium)
compgen -G "/usr/lib/postgresql/*/bin/initdb" >/dev/null || missing+=(postgresql)
[ "${#missing[@]}" -eq 0 ] && exit 0
if [ "$(id -u)" -ne 0 ]; then
    echo "The tests need these Debian packages. Run as root: apt-get install -y ${missing[*]}" >&2
    exit 1
fi
echo "Installing ${missing[*]} ..."
export DEBIAN_FRONTEND=noninteractive
apt-get update -qq
apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
