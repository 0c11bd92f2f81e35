#!/bin/sh
# Makes the pictures of the README again, from the shipped configurations. Needs chromium for the page's picture.
set -eu
cd "$(dirname "$0")/.."
for site in birch_hollow larch_end; do
    python3 -m sunsched --quiet chart "configs/$site.toml" --year 2027 -o "docs/year_$site.svg" --force
    python3 -m sunsched --quiet compare "configs/$site.toml" --year 2027 --years 400 --chart "docs/compare_$site.svg" --force >"docs/$site.tmp"
    rm "docs/$site.tmp"
done
python3 -m bench.picture_library >"docs/library.tmp"
rm docs/library.tmp
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
python3 -m sunsched --quiet report configs/larch_end.toml --year 2027 -o "$scratch/report.html"
python3 -m sunsched --quiet handover configs/larch_end.toml --from 2027-03-25 --to 2027-03-31 -o "$scratch/sheet.html"
python3 -m sunsched --quiet play configs/larch_end.toml --date 2027-03-20 -o "$scratch/play.html"
cp configs/larch_end.toml "$scratch/hut.toml"
here=$PWD
(cd "$scratch" && exec env PYTHONPATH="$here" python3 -um sunsched planner hut.toml --no-browser >planner.log) &
planner=$!
trap 'kill $planner; rm -rf "$scratch"' EXIT
until grep -q '^http' "$scratch/planner.log"; do sleep 1; done
# The picture shows one evening, whenever it is made.
for page in "report.html#2027-06-21" sheet.html play.html planner.html; do
    address="file://$scratch/$page" width=1200
    [ "$page" = planner.html ] && address="$(grep -m 1 '^http' "$scratch/planner.log")" width=1360
    chromium --headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking \
        --disable-component-update --disable-sync --hide-scrollbars --user-data-dir="$scratch/profile" \
        --window-size="$width",1150 --screenshot="docs/${page%.html*}.png" --virtual-time-budget=20000 "$address" >"$scratch/log" 2>&1
done
