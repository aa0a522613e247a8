#!/bin/sh
# Builds .venv from a lock file and writes a marker last.   usage: tools/install.sh LOCK MARKER
#
# What is there decides how: uv on the PATH; a Python that can make environments, or pip alone, with uv fetched into .uv/;
# as root, Debian's python3-venv first. Where none of them works, one line names the mend. Tried states: CONTRIBUTING.md.
set -eu
lock=$1 marker=$2
export UV_PYTHON_DOWNLOADS=never UV_NO_PROGRESS=1 UV_LINK_MODE=copy PIP_DISABLE_PIP_VERSION_CHECK=1 PIP_NO_INPUT=1
# A setting or an active environment of the person's own must not steer where things land.
unset VIRTUAL_ENV PYTHONHOME PYTHONPATH PIP_USER PIP_TARGET PIP_PREFIX PIP_REQUIRE_VIRTUALENV UV_PROJECT_ENVIRONMENT

say() { printf 'topout: %s\n' "$*" >&2; }
fail() { say "$*"; exit 1; }

# No home, or one that can't be written: work without a cache instead of failing or writing at the root of the disk.
cache=${XDG_CACHE_HOME:-${HOME:-/nonexistent}/.cache}
if [ -z "${HOME:-}" ] || ! mkdir -p "$cache" 2>/dev/null || ! [ -w "$cache" ]; then
    export HOME="$PWD/.run/home" XDG_CACHE_HOME="$PWD/.run/home/.cache" UV_NO_CACHE=1 PIP_NO_CACHE_DIR=1
    mkdir -p "$XDG_CACHE_HOME"
fi

new_enough() { "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; }

python=
if [ -n "${PYTHON:-}" ] && ! new_enough "$PYTHON"; then
    fail "PYTHON=$PYTHON is no Python 3.11 or newer. Mend: name one that is, or leave PYTHON out"
fi
for name in ${PYTHON:+"$PYTHON"} python3 /usr/bin/python3 python3.14 python3.13 python3.12 python3.11; do
    if new_enough "$name"; then python=$name; break; fi
done
if [ -z "$python" ]; then
    found=$(python3 -c 'import platform; print("python3 is " + platform.python_version())' 2>/dev/null || echo 'there is no python3')
    fail "needs Python 3.11 or newer, and $found here. Mend: on Debian 12 or newer sudo apt-get install python3 python3-venv, elsewhere make install PYTHON=/path/to/a/newer/python3"
fi

# The scripts of an environment hold its folder's name: one that was moved or copied here is made anew.
moved() { for old in .venv/.ready*; do [ -e "$old" ] && [ "$(cat "$old")" != "$(pwd -P)" ] && return 0; done; return 1; }
usable() { new_enough .venv/bin/python && ! moved; }
has_pip() { .venv/bin/python -m pip --version >/dev/null 2>&1; }
uv=
if command -v uv >/dev/null 2>&1; then uv=uv; elif [ -x .uv/bin/uv ]; then uv=.uv/bin/uv; fi

# uv lays the packages down in a fifth of pip's time. Where it can't be had, pip does.
fetch_uv() {
    rm -rf .uv
    "$1" -m pip install --quiet --no-warn-script-location --target .uv --require-hashes -r tools/fetch-uv.lock 2>/dev/null || return 1
    uv=.uv/bin/uv
}

make_environment() {
    if [ -n "$uv" ]; then "$uv" venv --quiet --clear --python "$python" .venv && return; fi
    rm -rf .venv
    if "$python" -m venv .venv >/dev/null 2>&1 && has_pip; then fetch_uv .venv/bin/python || true; return; fi
    rm -rf .venv
    if fetch_uv "$python"; then "$uv" venv --quiet --python "$python" .venv && return; fi
    if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
        say "fetching Debian's python3-venv"
        apt-get update -qq >/dev/null 2>&1 || true
        DEBIAN_FRONTEND=noninteractive apt-get install -y -qq python3-venv >/dev/null 2>&1 || true
        for name in "$python" /usr/bin/python3; do
            rm -rf .venv
            if new_enough "$name" && "$name" -m venv .venv >/dev/null 2>&1 && has_pip; then fetch_uv .venv/bin/python || true; return; fi
        done
    fi
    rm -rf .venv
    fail "this Python can make no environment. Mend: sudo apt-get install python3-venv"
}

with_uv() { "$uv" pip install --quiet --python .venv/bin/python --compile-bytecode "$@"; }
with_pip() { .venv/bin/python -m pip install --quiet "$@"; }
# uv trusts what this machine trusts, where it has Debian's store, an authority of the house's own among it. A mirror that pip
# is set to it does not know: where it fails and pip is there, pip has its turn, at three times the work.
[ -s /etc/ssl/certs/ca-certificates.crt ] && export UV_SYSTEM_CERTS=1
put() {
    if [ -z "$uv" ]; then with_pip "$@"
    elif has_pip; then with_uv "$@" 2>/dev/null || with_pip "$@"
    else with_uv "$@"; fi
}

usable && { [ -n "$uv" ] || has_pip; } || make_environment
say "installing from $lock"
put --require-hashes -r "$lock" || fail "could not fetch the packages of $lock. Mend: look at the lines above; most often the network, then: make install"
put --no-deps --no-build-isolation --editable . || fail "could not install this folder. Mend: make clean, then make install"
.venv/bin/python -m compileall -q src || true
pwd -P > "$marker"
say "ready: .venv/bin/topout"
