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
says 'what the lines on the way said is taken back' \
    '^4 pages called look above pass in the end' "$dir/stderr"
equal 'of each page that was called so' 4 \
    "$(grep -c '^squareleaf: page-000[1-4] .*: look: ' "$dir/stderr")"
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

# ---- one page twice --------------------------------------------------------------------------

shots=$dir/twice
mkdir "$shots"
shot "$shots/leaf1.jpg" seed=3 paper=white
shot "$shots/leaf2.jpg" seed=4 paper=white            # the same layout, other pictures
shot "$shots/leaf3.jpg" seed=5 paper=white prints=0   # blank
shot "$shots/leaf4.jpg" seed=6 paper=white prints=0 pitch=0.05
ends 'blank pages and layouts are not alike' 0 '4 pass' "$program" album "$shots" "$out" $small
shot "$shots/leaf5.jpg" seed=3 paper=white exposure=0.6 lamp=1,0.7 pitch=0.1 roll=3.1
ends 'one page again, in other light, upside down: both are named' 1 'pass, 2 to look at' \
    "$program" album "$shots" "$out"
says 'the new one' 'page 5 (leaf5.jpg): This seems to be the same page as page 1 (leaf1.jpg)$' \
    "$dir/stderr"
says 'and the one of the earlier run' \
    'page 1 (leaf1.jpg): This seems to be the same page as page 5 (leaf5.jpg)$' "$dir/stderr"
json 'in the report' "$out/report.json" \
    '[(p["verdict"], p["outcome"], [r["code"] for r in p["reasons"]]) for p in j["pages"]] ==
    [("look", "look", ["same-page"])] + [("pass", "pass", [])] * 3
    + [("look", "look", ["same-page"])]'
says 'in report.csv' '^page-0001,leaf1.jpg,look,.*Keep the better one' "$out/report.csv"
first=$(sums "$out" | grep report)
ends 'a second run ends alike' 1 'all done before' "$program" album "$shots" "$out"
equal 'in the same report' "$first" "$(sums "$out" | grep report)"
run "$program" album "$shots" "$dir/fresh" $small --optics "$out/optics.json" --jobs 1
equal 'which is that of one run over all' "$(echo "$first" | cut -d ' ' -f 1)" \
    "$(sums "$dir/fresh" | grep report | cut -d ' ' -f 1)"
rm -rf "$dir/fresh"
ends 'another limit' 0 '5 pass' "$program" album "$shots" "$dir/fresh" $small --limit same-page=100
rm -rf "$dir/fresh"
rm "$shots/leaf5.jpg" "$out"/*/page-0005.*
ends 'taken away: all is well' 0 '4 pass' "$program" album "$shots" "$out"
cp "$shots/leaf3.jpg" "$shots/leaf6.jpg"
ends 'the same file, though it is blank' 1 'leaf6.jpg): This is the same file as page 3' \
    "$program" album "$shots" "$out"
rm "$shots/leaf6.jpg" "$out"/*/page-0006.*
shot "$shots/leaf8--flap-open.jpg" seed=8 paper=white
cp "$shots/leaf8--flap-open.jpg" "$shots/leaf8--flap-closed.jpg"
ends 'two states of one page are meant, and one page' 0 '6 pass' \
    "$program" album "$shots" "$out" --expect 5
rm "$shots"/leaf8--* "$out"/*/*flap-*
run "$program" album "$shots" "$out" --expect none
shot "$shots/leaf7.jpg" seed=4 paper=white fill=1.05 shift=0,-9 # cut by the frame
ends 'a good shot is proposed in the place of one that is cut' 2 \
    'page 8 (leaf7.jpg): The top edge .*; a good shot of it seems to be page 2$' \
    "$program" album "$shots" "$out"
says 'and asked to be looked at' 'page 2 (leaf2.jpg): This seems to be the same page' "$dir/stderr"
json 'in the report' "$out/report.json" '[p.get("replacement") for p in j["pages"]][-1] ==
    "page-0002"'
rm -rf "$out"

# ---- place and way up ------------------------------------------------------------------------

shots=$dir/stand
mkdir "$shots"
for n in 1 2 3 4; do shot "$shots/s$n.jpg" seed=$n roll=0.01 shift=0.$n,0; done
# black paper on black felt, dark: alone it is doubted, or cut
shot "$shots/s5.jpg" seed=6 roll=0.01 paper=black table=felt exposure=0.45
run "$program" album "$shots" "$out" $small --fail-on never
json 'a weak outline is found where the others lie, and says so' "$out/report.json" \
    '(lambda p: p["verdict"] != "reshoot" and max(abs(a - b) for c, d in zip(p["corners"],
    j["pages"][3]["corners"]) for a, b in zip(c, d)) < 6
    and "from-place" in [r["code"] for r in p["reasons"]])(j["pages"][4])'
json 'the others are as they are' "$out/report.json" 'all("from-place" not in
    [r["code"] for r in p["reasons"]] for p in j["pages"][:4])'
json 'the place is frozen with the optics' "$out/optics.json" \
    'j["place"]["pages"] >= 4 and len(j["place"]["corners"]) == 4'
first=$(sums "$out")
run "$program" album "$shots" "$dir/fresh" $small --jobs 1 --fail-on never
equal 'the same bytes with --jobs 1' "$first" "$(sums "$dir/fresh")"
rm -rf "$dir/fresh"
files=$(inodes "$out")
shot "$shots/s6.jpg" seed=7 roll=0.01 shift=30,0
ends 'a later shot elsewhere' 1 '6 shots, 1 to do' "$program" album "$shots" "$out"
equal 'changes no earlier page' "$files" "$(inodes "$out" | grep -v 0006)"
says 'and is doubted' 'page 6 (s6.jpg): The page lies elsewhere' "$dir/stderr"
rm -rf "$out" "$shots/s5.jpg" "$shots/s6.jpg"
if have exiftool; then
    exiftool -q -overwrite_original -n -Orientation=6 "$shots"/*.jpg
    run "$program" album "$shots" "$dir/right" $small
    exiftool -q -overwrite_original -n -Orientation=1 "$shots/s3.jpg"
    ends 'a tag that was guessed' 1 'page 3 (s3.jpg): The camera took this shot for turned' \
        "$program" album "$shots" "$out" $small
    json 'the commonest is taken' "$out/report.json" \
        'j["pages"][2]["corners"] == json.load(open(sys.argv[1].replace("/out/",
    "/right/")))["pages"][2]["corners"] and j["pages"][2]["verdict"] == "look"
    and [r["code"] for r in j["pages"][2]["reasons"]] == ["which-way-up"]'
    ends '--ignore-orientation: all as stored' 0 '4 pass' \
        "$program" album "$shots" "$out" --ignore-orientation --recalibrate
    json 'is in the report' "$out/report.json" 'j["settings"]["ignore_orientation"]
    and all(p["width"] == 1008 for p in j["pages"])'
    ends 'is remembered' 0 'as in the last run:.* --ignore-orientation' \
        "$program" album "$shots" "$out"
    run "$program" outline "$shots/s1.jpg" --ignore-orientation
    json 'outline knows it too' "$dir/stdout" 'j["width"] == 1008'
    rm -rf "$out" "$dir/right"
else
    skip 'orientation tags' exiftool
fi

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
