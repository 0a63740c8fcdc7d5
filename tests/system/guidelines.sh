#!/bin/sh
# Figures against published guidelines. Authority: FADGI, Technical Guidelines for Digitizing
# Cultural Heritage Materials, 2016, table for prints and photographs: 100, 200, 400, 600 ppi and
# less than 8, 5, 3, 1 % of non-uniformity for one star to four.
# usage: guidelines.sh PROGRAM

. tests/support/check.sh
begin "$1" 1

table='
def stars(g, e):
    r = sum(g["resolution_ppi"] >= x for x in (100, 200, 400, 600))
    u = sum(g["illuminance_non_uniformity_percent"] < x for x in (8, 5, 3, 1))
    return (g["resolution_stars"], g["non_uniformity_stars"]) == (r, u)'
for size in 1x1in 3x3in 4x4in 6x6in 12x12in 30x30in; do
    run "$program" outline "$dir/shots/shot1.jpg" --page-size $size --fail-on never
    cp "$dir/stdout" "$dir/$size"
    if have python3 && python3 -c "$table
import json, sys
j = json.load(open('$dir/$size'))
g = j['guidelines']
ok = (stars(g, j) and g['resolution_ppi'] == j['native_ppi']['p5']
      and g['reaches_300_ppi'] == (g['resolution_ppi'] >= 300)
      and g['reaches_400_ppi'] == (g['resolution_ppi'] >= 400)
      and abs(g['illuminance_non_uniformity_percent'] - 100 * (1 - j['evenness'])) < 1e-6)
print(g)
sys.exit(not ok)" > "$dir/said" 2>&1; then
        pass "$size: stars as the table has them"
    elif have python3; then
        fail "$size: stars as the table has them" "$(tail -n 1 "$dir/said")"
    else
        skip "$size" python3
    fi
done
json 'a large page: below 300 ppi' "$dir/30x30in" 'j["guidelines"]["resolution_stars"] == 0 and not j["guidelines"]["reaches_300_ppi"]'
json 'a small one: four stars' "$dir/1x1in" 'j["guidelines"]["resolution_stars"] == 4 and j["guidelines"]["reaches_400_ppi"]'
run "$program" album "$dir/shots" "$dir/pages" --page-size 12x12in --ppi 60 --min-ppi 30 --fail-on never
says 'report.csv has the columns' 'reaches_300_ppi,reaches_400_ppi,resolution_stars' "$dir/pages/report.csv"
says 'and their values' ',no,no,[0-4],[0-9.]*,[0-4],' "$dir/pages/report.csv"
close_count
