#!/usr/bin/env bash
# The page without a server in a real browser: builds target/permil.html where it is not there,
# or is older than what it is made of, and opens it from the disk.
#
# Needs what browser_check.sh needs; ends with status 77 where that is not to be had.
set -euo pipefail
cd "$(dirname "$0")/.."
have() { command -v "$1" >/dev/null 2>&1; }
if ! { have chromium && have chromedriver; }; then
    echo "check of the page without a server: NOT DONE, chromium and chromedriver are not here" >&2
    exit 77
fi
html=$(realpath -m "${CARGO_TARGET_DIR:-target}")/permil.html
if [ ! -f "$html" ] || [ -n "$(find src profiles Cargo.lock -newer "$html" -type f -print -quit)" ]; then
    cargo run --quiet --locked --bin bundle -- "$html"
fi
axe=target/axe-core/package/axe.min.js
[ ! -f "$axe" ] || export PERMIL_AXE="$PWD/$axe"
[ -z "${PERMIL_PICTURES:-}" ] || PERMIL_PICTURES=$(realpath "$PERMIL_PICTURES")
PERMIL_HTML=$html cargo test --locked --test alone -- --ignored --nocapture --test-threads=1
# The same bytes as the native engine, where node is there to run the one of the page.
if have node; then
    PERMIL_BOUND=$(dirname "$html")/web/bound cargo test --locked --test alone_bytes -- --ignored --nocapture
else
    echo "check of the page without a server: no node, so its bytes were not compared" >&2
fi
