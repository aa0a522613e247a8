#!/bin/sh
# Writes the lock files again from pyproject.toml: every version with the hashes of its files, for every platform.
# requirements.lock is what runs; requirements-dev.lock adds what the checks need and keeps the versions of the first.
set -eu
uv=$(command -v uv || echo .uv/bin/uv)
[ -x "$uv" ] || .venv/bin/python -m pip install --quiet --target .uv --require-hashes -r tools/fetch-uv.lock
lock() { "$uv" pip compile --quiet --upgrade --universal --generate-hashes --custom-compile-command 'make lock' "$@"; }
lock pyproject.toml --extra build -o requirements.lock
lock pyproject.toml --extra build --extra dev -c requirements.lock -o requirements-dev.lock
echo 'uv>=0.9,<1' | lock - -o tools/fetch-uv.lock
