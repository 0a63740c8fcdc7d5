#!/bin/sh
# `album`: a folder of shots becomes a folder of pages; what is no shot has its outcome; nothing
# is done twice; nothing that is not ours is replaced; exit statuses.
# usage: album.sh PROGRAM

. tests/support/check.sh
begin "$1" 7 # 1 2 4 7 are good, 3 is bowed, 5 cut by the frame, 6 without a page
made=$dir/shots
# few pixels, so that a page takes little time; more than one word: used without quotes
small='--page-size 8x8in --ppi 80'

# pages FOLDER: the files of its pages.
pages() { (cd "$1" && find . -name 'page-*' ! -path './review/*' | LC_ALL=C sort); }

# ---- a folder of mishaps ---------------------------------------------------------------------

mishaps=$dir/mishaps
mkdir "$mishaps" "$mishaps/folder.jpg"
cp "$made/shot1.jpg" "$mishaps/good.jpg"
cp "$made/shot1.jpg" "$mishaps/.hidden.jpg"
echo 'no picture' > "$mishaps/text.jpg"
echo 'no picture' > "$mishaps/notes.txt"
: > "$mishaps/empty.jpg"
head -c 20000 "$made/shot2.jpg" > "$mishaps/short.jpg"
ln -s nowhere.jpg "$mishaps/dangling.jpg"
mkfifo "$mishaps/pipe.jpg"
before=$(sums "$mishaps")

# In natural order: dangling 1, empty 2, good 3, short 4, text 5.
ends 'mishaps end with 2' 2 '5 shots: 1 pass, 4 failed; 4 other files skipped' \
    "$program" album "$mishaps" "$dir/out" $small -v
cp "$dir/stderr" "$dir/said"
says 'the shot passes' 'good.jpg.*: pass' "$dir/said"
says 'text named .jpg: no signature' 'text.jpg): failed: no JPEG, PNG, TIFF or HEIC' "$dir/said"
says 'empty file: said' 'empty.jpg): failed: .*empty' "$dir/said"
says 'truncated JPEG: cut short' 'short.jpg): failed: .*cut short' "$dir/said"
says 'dangling link: said' 'dangling.jpg): failed: .*not there' "$dir/said"
says 'FIFO: skipped' 'Skipped: pipe.jpg (a named pipe)' "$dir/said"
says 'directory: skipped' 'Skipped: folder.jpg (a folder)' "$dir/said"
says 'hidden file: skipped' 'Skipped: .hidden.jpg (a hidden file)' "$dir/said"
says 'text file: skipped' 'Skipped: notes.txt (no picture)' "$dir/said"
json 'report: an outcome and a reason each' "$dir/out/report.json" \
    'j["schema"] == 1 and {p["shot"]: p["outcome"] for p in j["pages"]} == {
    "good.jpg": "pass", "text.jpg": "failed", "empty.jpg": "failed", "short.jpg": "failed",
    "dangling.jpg": "failed"} and all(p["error"] for p in j["pages"] if p["outcome"] == "failed")'
json 'report: what was skipped, and why' "$dir/out/report.json" \
    '{s["name"]: bool(s["why"]) for s in j["skipped"]} == {
    "pipe.jpg": True, "folder.jpg": True, ".hidden.jpg": True, "notes.txt": True}'
equal 'only the shot became a page' './access/page-0003.jpg
./masters/page-0003.tif' "$(pages "$dir/out")"
equal 'the folder of mishaps is as before' "$before" "$(sums "$mishaps")"
ends 'mishaps again: the same end' 2 '1 pass, 4 failed' \
    "$program" album "$mishaps" "$dir/out" $small
rm -rf "$dir/out"

# ---- names, places and order -----------------------------------------------------------------

shots=$dir/album
mkdir "$shots"
cp "$made/shot1.jpg" "$shots/shot1.jpg"
cp "$made/shot2.jpg" "$shots/shot2.jpg"
cp "$made/shot5.jpg" "$shots/shot5.jpg"
cp "$made/shot6.jpg" "$shots/shot6.jpg"
cp "$made/shot4.jpg" "$shots/shot10.jpg"
out=$dir/out
before=$(sums "$shots")
ends 'pages to photograph again end with 2' 2 'page 3 (shot5.jpg)' \
    "$program" album "$shots" "$out" $small --jobs 1
equal 'pages in masters/ and access/, the cut one in unfinished/, nothing without a page' \
    './access/page-0001.jpg
./access/page-0002.jpg
./access/page-0005.jpg
./masters/page-0001.tif
./masters/page-0002.tif
./masters/page-0005.tif
./unfinished/page-0003.jpg
./unfinished/page-0003.tif' "$(pages "$out")"
json 'shot2 comes before shot10' "$out/report.json" \
    '[p["shot"] for p in j["pages"]] == ["shot1.jpg", "shot2.jpg", "shot5.jpg", "shot6.jpg",
    "shot10.jpg"]'
json 'each page of the report: sums that agree, figures, outcome' "$out/report.json" \
    'all(p["outcome"] == p["verdict"] and p["width"] == 1008 and len(p["sha256"]) == 64
    and all(__import__("hashlib").sha256(open(sys.argv[1].replace("report.json", f["path"]),
    "rb").read()).hexdigest() == f["sha256"] for f in p["files"]) for p in j["pages"])'
json 'report: the keys of the contract' "$out/report.json" \
    'set("schema program settings optics pages skipped".split()) <= set(j)'
says 'report.csv: a line a page' '^page-0005,shot10.jpg,pass,' "$out/report.csv"
if grep -q -e mtime -e "$(date +%Y-%m-%d)" "$out/report.json" "$out/report.csv"; then
    fail 'the report holds no clock time' "$(grep -n -e mtime -e "$(date +%Y-)" "$out"/report.*)"
else
    pass 'the report holds no clock time'
fi

run "$program" album "$shots" "$dir/out2" $small --jobs 2 --memory 300MB
equal 'the same bytes with --jobs 1 and --jobs 2, report included' "$(sums "$out")" \
    "$(sums "$dir/out2")"
rm -rf "$dir/out2"

# ---- a second run ----------------------------------------------------------------------------

first=$(sums "$out")
files=$(inodes "$out")
ends 'a second run ends alike' 2 'all done before' "$program" album "$shots" "$out" $small
equal 'a second run writes no page' "$files" "$(inodes "$out")"
equal 'and the same report' "$first" "$(sums "$out")"

touch -t 203001020304 "$shots/shot1.jpg"
ends 'a touched shot is looked at' 2 '1 to do' "$program" album "$shots" "$out" $small
equal 'a touched shot is not done again' "$files" "$(inodes "$out")"
equal 'nor is its time in the report' "$first" "$(sums "$out")"
ends 'its time is noted' 2 'all done before' "$program" album "$shots" "$out" $small
run "$program" album "$shots" "$out" $small --rehash
equal '--rehash reads, and keeps what agrees' "$files" "$(inodes "$out")"

run "$program" album "$shots" "$out" $small --redo
equal '--redo does all again: other files' '0' \
    "$(inodes "$out" > "$dir/now"; echo "$files" | grep -c -x -F -f "$dir/now")"
equal '--redo: the same bytes' "$first" "$(sums "$out")"

run "$program" album "$shots" "$out" $small --quality 80
equal 'a changed setting changes what it touches' '0' \
    "$(sums "$out" > "$dir/now"; echo "$first" | grep 'access/' | grep -c -x -F -f "$dir/now")"
ends 'it is remembered' 2 'as in the last run:.*--quality 80' "$program" album "$shots" "$out"
run "$program" album "$shots" "$out" $small --forget
equal 'and back' "$first" "$(sums "$out")"

mv "$out" "$dir/elsewhere"
out=$dir/elsewhere
files=$(inodes "$out")
ends 'a renamed OUT_DIR is known' 2 'all done before' "$program" album "$shots" "$out" $small
equal 'and its pages stay' "$files" "$(inodes "$out")"

rm "$out/masters/page-0001.tif" "$out/access/page-0002.jpg"
ends 'deleted pages are to do' 2 '2 to do' "$program" album "$shots" "$out" $small
equal 'deleted pages are made again' "$first" "$(sums "$out")"

# ---- a later shot in between -----------------------------------------------------------------

files=$(inodes "$out")
cp "$made/shot7.jpg" "$shots/shot3.jpg"
cp "$made/shot7.jpg" "$shots/shot11.jpg"
ends 'two more shots, two to do' 2 '2 to do' "$program" album "$shots" "$out" $small
json 'in between comes page-0002a, at the end page-0006' "$out/report.json" \
    '[(p["shot"], p["page"]) for p in j["pages"]] == [("shot1.jpg", "page-0001"),
    ("shot2.jpg", "page-0002"), ("shot3.jpg", "page-0002a"), ("shot5.jpg", "page-0003"),
    ("shot6.jpg", "page-0004"), ("shot10.jpg", "page-0005"), ("shot11.jpg", "page-0006")]'
check 'page-0002a is there' test -s "$out/masters/page-0002a.tif"
equal 'the others keep names and files' "$files" \
    "$(inodes "$out" | grep -v -e page-0002a -e page-0006)"
# The names of shots that are gone stay with their pages.
rm "$shots/shot3.jpg" "$shots/shot11.jpg"
cp "$made/shot1.jpg" "$shots/shot4.jpg"
cp "$made/shot1.jpg" "$shots/shot12.jpg"
run "$program" album "$shots" "$out" $small
json 'a name is not given twice' "$out/report.json" \
    '[p["page"] for p in j["pages"] if p["shot"] in ("shot4.jpg", "shot12.jpg")] ==
    ["page-0002b", "page-0007"]'
equal 'pages of shots that are gone stay' 4 \
    "$(pages "$out" | grep -c -e page-0002a -e page-0006)"
rm "$shots/shot4.jpg" "$shots/shot12.jpg"

# ---- what is not ours ------------------------------------------------------------------------

printf 'edited' >> "$out/masters/page-0002.tif"
edited=$(cksum < "$out/masters/page-0002.tif")
rm "$out/masters/page-0001.tif"
ends 'an edited master is no work to do, and named' 2 'somebody changed them: page 2$' \
    "$program" album "$shots" "$out" $small
equal 'an edited master is kept' "$edited" "$(cksum < "$out/masters/page-0002.tif")"
ends 'an edited master in the way: its page fails' 2 \
    'page-0002 (shot2.jpg): failed: masters/page-0002.tif .*--force' \
    "$program" album "$shots" "$out" $small --redo
equal 'an edited master is kept then too' "$edited" "$(cksum < "$out/masters/page-0002.tif")"
check 'the rest is done' test -s "$out/masters/page-0001.tif"
ends 'with --force it is replaced' 2 '' "$program" album "$shots" "$out" $small --force
equal 'by the page' "$(echo "$first" | grep masters)" \
    "$(sums "$out" | grep masters | grep -v -e page-0002[ab] -e page-000[67])"
equal 'the shots are as before' "$before" "$(sums "$shots")"

mkdir "$dir/foreign"
echo '{}' > "$dir/foreign/report.json"
ends "somebody else's report.json" 73 'report.json' "$program" album "$shots" "$dir/foreign" $small
equal 'is kept' '{}' "$(cat "$dir/foreign/report.json")"

mkdir -p "$dir/mine/masters"
echo 'mine' > "$dir/mine/masters/page-0001.tif"
ends "somebody else's master" 2 'masters/page-0001.tif' "$program" album "$shots" "$dir/mine" $small
equal 'is kept too' 'mine' "$(cat "$dir/mine/masters/page-0001.tif")"
check 'and the next page is written' test -s "$dir/mine/masters/page-0002.tif"

# An output name that leads to a shot, by a hard link and by a symbolic one: never, --force or not.
mkdir -p "$dir/linked/masters" "$dir/linked/access"
ln "$shots/shot1.jpg" "$dir/linked/masters/page-0001.tif"
ln -s "$shots/shot2.jpg" "$dir/linked/access/page-0002.jpg"
ends 'a page under the name of a shot' 2 'a shot is never written' \
    "$program" album "$shots" "$dir/linked" $small --force
equal 'no shot is written' "$before" "$(sums "$shots")"

# ---- folders that cannot be ------------------------------------------------------------------

mkdir "$dir/empty"
echo 'a file' > "$dir/file"
ends 'OUT_DIR is SHOTS_DIR' 64 'holds the shots' "$program" album "$shots" "$shots" $small
ends 'OUT_DIR is SHOTS_DIR by another name' 64 '' \
    "$program" album "$shots" "$shots/../album/" $small
ends 'no SHOTS_DIR' 66 'no folder' "$program" album "$dir/none" "$dir/o" $small
ends 'SHOTS_DIR without pictures' 66 'no pictures' "$program" album "$dir/empty" "$dir/o" $small
ends 'SHOTS_DIR is a file' 64 'squareleaf page' "$program" album "$dir/file" "$dir/o" $small
ends 'OUT_DIR below a missing folder' 73 'above' "$program" album "$shots" "$dir/none/o" $small
ends 'OUT_DIR is a file' 73 'no folder' "$program" album "$shots" "$dir/file" $small
absent 'none of these made a folder' "$dir/o" "$dir/none"
equal 'or touched the file' 'a file' "$(cat "$dir/file")"
equal 'or left anything among the shots' "$before" "$(sums "$shots")"
if [ "$(id -u)" -eq 0 ]; then
    skip 'a read-only OUT_DIR' 'an ordinary user'
else
    mkdir "$dir/locked"
    chmod 555 "$dir/locked"
    ends 'a read-only OUT_DIR' 77 'ermission' "$program" album "$shots" "$dir/locked" $small
    chmod 755 "$dir/locked"
fi

# Held still in the middle of its work, the first run keeps its lock.
"$program" album "$made" "$dir/busy" --page-size 8x8in --jobs 1 > "$dir/busy.out" 2>&1 &
first_run=$!
until [ -s "$dir/busy/.squareleaf/journal" ] || ! kill -0 "$first_run" 2> /dev/null; do :; done
if kill -STOP "$first_run" 2> /dev/null; then
    ends 'a second run at once' 75 'another run' "$program" album "$made" "$dir/busy" $small
    kill -CONT "$first_run"
else
    fail 'a second run at once' 'the first one had ended'
fi
wait "$first_run"
equal 'the first run ends as ever' 2 "$?"

# ---- exit statuses and output ----------------------------------------------------------------

good=$dir/good
mkdir "$good"
cp "$made/shot1.jpg" "$made/shot2.jpg" "$good"
look="$small --min-ppi 100"
ends 'all pass: 0' 0 '2 shots: 2 pass' "$program" album "$good" "$dir/g" $small
ends 'some to look at: 1' 1 '2 to look at' "$program" album "$good" "$dir/l" $look
ends 'look, --fail-on reshoot: 0' 0 '' "$program" album "$good" "$dir/l" $look --fail-on reshoot
ends 'look, --fail-on never: 0' 0 '' "$program" album "$good" "$dir/l" $look --fail-on never
ends 'reshoot, --fail-on reshoot: 2' 2 '' "$program" album "$shots" "$out" $small --fail-on reshoot
ends 'reshoot, --fail-on never: 0' 0 '' "$program" album "$shots" "$out" $small --fail-on never

run "$program" album "$good" "$dir/q" $small -q
equal '-q says nothing of success' '0 ' "$status $(cat "$dir/stdout" "$dir/stderr")"
run "$program" album "$mishaps" "$dir/q2" $small --json -q
equal '--json: one line a page' 5 "$(wc -l < "$dir/stdout" | tr -d ' ')"
equal '--json: each line is a page' 5 "$(grep -c '^{"shot": .*}$' "$dir/stdout")"
# The lines of a page are its entry in the report, the same in a run that has nothing to do.
{ printf '['; sed '$!s/$/,/' "$dir/stdout"; printf ']'; } > "$dir/lines.json"
json '--json: the same as in report.json' "$dir/lines.json" \
    'j == json.load(open(sys.argv[1].replace("lines.json", "q2/report.json")))["pages"]'
run "$program" album "$mishaps" "$dir/q3" $small
equal 'without --json nothing on standard output' '' "$(cat "$dir/stdout")"
run "$program" album "$good" "$dir/one" $small --master none
absent '--master none makes no masters' "$dir/one/masters"
check 'but access copies' test -s "$dir/one/access/page-0001.jpg"
run "$program" album "$good" "$dir/two" $small --access none --master png
absent '--access none makes no access copies' "$dir/two/access"
check 'but masters' test -s "$dir/two/masters/page-0001.png"
close_count
