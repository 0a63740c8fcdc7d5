#!/bin/sh
# `album`: what only the pages together can tell: how many there are, faults of the whole album.
# usage: together.sh PROGRAM

. tests/support/check.sh
begin "$1" 2 # both are good
made=$dir/shots
small='--page-size 8x8in --ppi 80'

# ---- how many pages --------------------------------------------------------------------------

out=$dir/out
ends 'as many as expected' 0 '2 pass' "$program" album "$made" "$out" $small --expect 2
json 'no fault' "$out/report.json" 'j["faults"] == []'
ends 'fewer: said, exit 1' 1 \
    'The whole album: 3 pages are expected and 2 found: 1 missing. Leaf through' \
    "$program" album "$made" "$out" --expect 3
json 'fewer: in the report' "$out/report.json" '[(f["code"], f["value"], f["limit"], f["unit"],
    f["text"][:21]) for f in j["faults"]] == [("page-count", 2, 3, "pages", "3 pages are expected ")]'
ends 'the number is remembered' 1 'as in the last run: .*--expect 3' \
    "$program" album "$made" "$out"
ends 'more: said' 1 '1 page is expected and 2 found: 1 too many' \
    "$program" album "$made" "$out" --expect 1
ends '--fail-on reshoot' 0 'too many' "$program" album "$made" "$out" --fail-on reshoot
ends '--expect none forgets' 0 '' "$program" album "$made" "$out" --expect none
ends 'for good' 0 '' "$program" album "$made" "$out"
for wrong in 0 -1 2x 1.5 many ''; do
    ends "--expect '$wrong'" 64 "'--expect' *wants\|number of the album's pages" \
        "$program" album "$made" "$out" --expect "$wrong"
done
rm -rf "$out"

# ---- the stated size -------------------------------------------------------------------------

# shot FILE WORD=VALUE...: one made shot.
shot() { "$(dirname "$program")/tests/make-shot" "$@" || fail "make-shot $*"; }

shots=$dir/size
mkdir "$shots"
for n in 1 2 3 4; do # 8.17 x 8 in
    shot "$shots/leaf$n.jpg" page=207.5x203.2 seed=$n pitch=0.0$n roll=-0.0$n
done
shot "$shots/leaf5.jpg" page=203.2x203.2 seed=5
ends 'a wrong size: said once, exit 1' 1 \
    'You said 8 x 8 in, which is 1.000 to 1; 4 of 5 pages measure 1.02[012] to 1. .*x203mm' \
    "$program" album "$shots" "$out" $small --json
cp "$dir/stdout" "$dir/lines"
equal 'and not on each page' 1 "$(grep -c '^  page' "$dir/stderr")"
says 'the odd leaf is looked at' 'page 5 (leaf5.jpg): The page measures 1.000 to 1 where most' \
    "$dir/stderr"
json 'in the report too' "$out/report.json" '[f["code"] for f in j["faults"]] == ["size-differs"]
    and [(p["verdict"], p["outcome"]) for p in j["pages"]] == [("pass", "pass")] * 4
    + [("look", "look")] and all([(r["code"], r["weight"]) for r in p["reasons"]] ==
    [("size-differs", "pass")] for p in j["pages"][:4])'
{ printf '['; sed '$!s/$/,/' "$dir/lines"; printf ']'; } > "$dir/lines.json"
json '--json: a page that is judged anew comes again' "$dir/lines.json" \
    'list({p["page"]: p["outcome"] for p in j}.values()) == ["pass"] * 4 + ["look"]'
first=$(sums "$out")
ends 'a second run says it again' 1 '4 of 5 pages measure' "$program" album "$shots" "$out"
equal 'in the same report' "$first" "$(sums "$out")"
ends 'the measured size: only the odd leaf is left' 1 '4 pass, 1 to look at' \
    "$program" album "$shots" "$out" --page-size 207.5x203.2mm
rm -rf "$out"
ends 'far from the stated size: told with what it measures' 1 \
    'measures 1.250 to 1 (height to width) where the stated size gives 1.000 to 1. It was written' \
    "$program" page "$(shot "$dir/far.jpg" page=192x240 pitch=0.03; echo "$dir/far.jpg")" \
    "$dir/far.tif" $small
check 'and written' test -s "$dir/far.tif"

# ---- a flatbed scan --------------------------------------------------------------------------

shot "$dir/scan.jpg" focal=0 paper=kraft table=white shadow=0 fill=1.02 shift=0,-6 seed=3
ends 'a scan is to be scanned again' 2 'Scan it again with a finger' \
    "$program" page "$dir/scan.jpg" "$dir/scan.tif" $small
shot "$dir/tilted.jpg" focal=0 paper=kraft pitch=0.1 fill=1.02 shift=0,-9 seed=3
ends 'a photograph without tags to be photographed' 2 'Photograph it again with a finger' \
    "$program" page "$dir/tilted.jpg" "$dir/tilted.tif" $small

# ---- light -----------------------------------------------------------------------------------

shots=$dir/dark
mkdir "$shots"
for n in 1 2 3; do shot "$shots/dark$n.jpg" seed=$n exposure=0.1; done
ends 'underexposed: said once' 1 '3 of 3 shots are underexposed: .* brighter than [0-9]* %' \
    "$program" album "$shots" "$out" $small
equal 'and not on each page' 0 "$(grep -c '^  page' "$dir/stderr")"
rm -rf "$out"
shots=$dir/few
mkdir "$shots"
for n in 1 2 3; do shot "$shots/few$n.jpg" seed=$n; done
ends 'few pixels: said once' 1 '3 of 3 shots hold only [78][0-9] ppi' \
    "$program" album "$shots" "$out" --page-size 8x8in --ppi 200
equal 'and not on each page' 0 "$(grep -c '^  page' "$dir/stderr")"
ends 'and no more when that is enough' 0 'no finer' "$program" album "$shots" "$out" --min-ppi 60
rm -rf "$out"
for n in 1 2 3; do shot "$shots/few$n.jpg" seed=$n blur=2.6; done
ends 'not sharp: said once' 1 '3 of 3 shots are not sharp (edges are blurred by 2.[5-8] px)' \
    "$program" album "$shots" "$out" $small
equal 'and not on each page' 0 "$(grep -c '^  page.*sharp' "$dir/stderr")"
rm -rf "$out"
close_count
