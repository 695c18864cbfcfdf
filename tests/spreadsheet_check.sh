#!/usr/bin/env bash
# Opens exported sheets in LibreOffice Calc, saves them again as CSV, imports
# them and compares the palette with the one before. Needs `soffice`
# (apt-get install --no-install-recommends libreoffice-calc) and a built program:
#   cargo build --release && tests/spreadsheet_check.sh
set -euo pipefail
cd "$(dirname "$0")/.."
permil="${CARGO_TARGET_DIR:-$PWD/target}/release/permil"
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT

# resave IN OUT SEPARATOR LANGUAGE: separators are character codes; 76 is UTF-8;
# 1033 and 1031 are English and German, which decide what a decimal sign is.
resave() {
    mkdir -p "$folder/in" "$folder/out"
    cp "$1" "$folder/in/sheet.csv"
    soffice --headless "-env:UserInstallation=file://$folder/profile" \
        --infilter="CSV:$3,34,76,1,,$4,false,true" \
        --convert-to "csv:Text - txt - csv (StarCalc):$3,34,76,1,,$4,false,true" \
        --outdir "$folder/out" "$folder/in/sheet.csv" > "$folder/log" 2>&1
    cp "$folder/out/sheet.csv" "$2"
}

failed=0
# An awkward palette: names that a spreadsheet would run, count or take for a
# day, three decimals, several bottles, line breaks.
cat > "$folder/awkward.toml" <<'TOML'
name = "=1+1"
currency = "EUR"
scale = 10
remarks = "line one\nline two"
[descriptors]
rosy = "1-2"
price = "worth"
"2024" = ""
[[material]]
name = "10-5"
cas = "60-12-8"
strength = 1.234
scores = { rosy = 7.125, price = 1, "2024" = 0.5 }
price = 1234.5
constituents = { "97-53-0" = 0.125, "106-24-1" = 1.5 }
bottle = [{ percent = 10, carrier = "a; b" }, { percent = 0.5 }]
[[material]]
name = "May 5"
strength = 0.000001
scores = { rosy = 3 }
constituents = {}
natural = true
packs = [{ grams = 5.125, price = 4 }, { grams = 1000, price = 150 }]
[[material]]
name = " padded, \"quoted\" "
strength = 0
handling = "TRUE"
tags = ["a, b", "1e5"]
have = false
TOML
for palette in profiles/rose-otto/palette.toml profiles/six-materials/palette.toml "$folder/awkward.toml"; do
    for habit in "point comma 44 1033" "comma semicolon 59 1031" "point tab 9 1033"; do
        read -r decimal delimiter separator language <<< "$habit"
        "$permil" export "$palette" --decimal "$decimal" --delimiter "$delimiter" --quiet --force --save "$folder/a.csv"
        resave "$folder/a.csv" "$folder/b.csv" "$separator" "$language"
        "$permil" import "$folder/a.csv" --quiet --force --save "$folder/a.toml"
        if "$permil" import "$folder/b.csv" --quiet --force --save "$folder/b.toml" \
            && cmp -s "$folder/a.toml" "$folder/b.toml"; then
            echo "the same    $(basename "$(dirname "$palette")")/$(basename "$palette"), decimal $decimal, $delimiter"
        else
            echo "DIFFERENT   $palette, decimal $decimal, $delimiter"
            diff "$folder/a.toml" "$folder/b.toml" | head -20 || true
            failed=1
        fi
    done
done
exit $failed
