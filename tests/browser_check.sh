#!/usr/bin/env bash
# The page of `permil explore` in a real browser: what moves, what is saved, the
# keyboard, 360 pixels, the dark, accessibility (axe-core), and that no request
# leaves this machine. PERMIL_PICTURES=plots writes the screenshots of record.
#
# Needs chromium and chromedriver; installs Debian's where it may (root and
# apt-get), and ends with status 77 where they are not to be had.
set -euo pipefail
cd "$(dirname "$0")/.."

have() { command -v "$1" >/dev/null 2>&1; }
if ! { have chromium && have chromedriver; } && [ "$(id -u)" = 0 ] && have apt-get; then
    { apt-get update && apt-get install -y --no-install-recommends chromium chromium-driver; } >/dev/null 2>&1 || true
fi
if ! { have chromium && have chromedriver; }; then
    echo "browser check: NOT DONE, chromium and chromedriver are not here and could not be installed" >&2
    exit 77
fi

axe=target/axe-core/package/axe.min.js
if [ ! -f "$axe" ] && have npm; then
    mkdir -p target/axe-core
    (cd target/axe-core && npm pack --silent axe-core@4.14.1 >/dev/null && tar xzf axe-core-*.tgz) || true
fi
if [ -f "$axe" ]; then
    export PERMIL_AXE="$PWD/$axe"
else
    echo "browser check: axe-core could not be fetched with npm; accessibility is not looked at" >&2
fi
[ -z "${PERMIL_PICTURES:-}" ] || PERMIL_PICTURES=$(realpath "$PERMIL_PICTURES")
cargo test --locked --test browser -- --ignored --nocapture
