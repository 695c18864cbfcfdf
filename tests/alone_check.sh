#!/usr/bin/env bash
# The page without a server in a real browser: builds target/permil.html where it is not there,
# or is older than what it is made of, and opens it from the disk.
#
# Needs what browser_check.sh needs; ends with status 77 where that is not to be had. Firefox
# (firefox-esr of Debian) and node are asked where they are there, and it is said where they are not.
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
# In Firefox as well, where there is one, driven by node without any driver.
firefox=$(command -v firefox-esr || command -v firefox || true)
if [ -n "$firefox" ] && have node && node --experimental-websocket -e 'process.exit(typeof WebSocket === "function" ? 0 : 1)'; then
    node --experimental-websocket tests/alone_firefox.mjs "$firefox" "$html"
else
    echo "check of the page without a server: NOT DONE in Firefox, which needs firefox-esr and node from 20.10 on" >&2
fi
# The same bytes as the native engine, where node is there to run the one of the page.
if have node; then
    PERMIL_BOUND=$(dirname "$html")/web/bound cargo test --locked --test alone_bytes -- --ignored --nocapture
else
    echo "check of the page without a server: no node, so its bytes were not compared" >&2
fi
