#!/bin/sh
# Runs that do not end well: interrupted, killed, out of disk. Pages are whole or not there, and
# the next run ends with the bytes of a run that nothing disturbed.
# usage: interrupt.sh PROGRAM

. tests/support/check.sh
begin "$1" 4
shots=$dir/shots
for n in 1 2 4; do
    cp "$shots/shot$n.jpg" "$shots/shot$((n + 4)).jpg"
    cp "$shots/shot$n.jpg" "$shots/shot$((n + 8)).jpg"
done
# the bowed page may be one to look at: not what is tested here
small='--page-size 8x8in --ppi 80 --fail-on reshoot'
out=$dir/pages
before=$(sums "$shots")

run "$program" album "$shots" "$dir/whole" $small
undisturbed=$(sums "$dir/whole")
equal 'an undisturbed run has ten pages' 20 "$(inodes "$dir/whole" | wc -l | tr -d ' ')"

# start: a run in the background, its number in $pid.
start() {
    "$program" album "$shots" "$out" $small --jobs 2 > "$dir/bg" 2>&1 &
    pid=$!
}

# done_pages: how many the journal holds; its other lines tell of names.
done_pages() { grep -c '"outcome"' "$out/.squareleaf/journal" 2> /dev/null || :; }

# await PAGES: until that many are done, or the run has ended.
await() {
    until [ "0$(done_pages)" -ge "$1" ] || ! kill -0 "$pid" 2> /dev/null; do :; done
}

# whole_so_far WHAT: every page that is there has the bytes it should have.
whole_so_far() {
    echo "$undisturbed" > "$dir/should"
    whole_wrong=$(sums "$out" | grep page- | grep -v '\.part$' | grep -v -x -F -f "$dir/should")
    equal "$1: what is there is whole" '' "$whole_wrong"
}

# goes_on WHAT: the next run ends with the same bytes.
goes_on() {
    run "$program" album "$shots" "$out" $small --forget
    equal "$1, run again: the same bytes" "$undisturbed" "$(sums "$out")"
    equal "$1, run again: nothing half made" '' "$(parts "$out")"
    rm -rf "$out"
}

# ---- interrupted -----------------------------------------------------------------------------

# interrupted SIGNAL STATUS PAGES
interrupted() {
    start
    await "$3"
    kill -"$1" "$pid"
    wait "$pid"
    equal "$1: exit status" "$2" "$?"
    says "$1: it is said" 'run the same command again' "$dir/bg"
    equal "$1: nothing half made" '' "$(parts "$out")"
    whole_so_far "$1"
    json "$1: the report tells of what was done" "$out/report.json" \
        "$3 <= len(j['pages']) < 10 and all(p['files'] for p in j['pages'])"
    goes_on "$1"
}
interrupted INT 130 1
interrupted TERM 143 3
interrupted HUP 129 2

# ---- killed ----------------------------------------------------------------------------------

# At any moment: before the first page, in the middle, near the end.
for pages in 0 1 2 5 8; do
    start
    await "$pages"
    kill -KILL "$pid" 2> /dev/null
    wait "$pid" 2> /dev/null
    equal "killed at $pages pages: exit status" 137 "$?"
    [ ! -d "$out" ] || whole_so_far "killed at $pages pages"
    goes_on "killed at $pages pages"
done

# In the middle of a file: as soon as one is half made.
start
until [ -n "$(parts "$out" 2> /dev/null)" ] || ! kill -0 "$pid" 2> /dev/null; do :; done
kill -KILL "$pid" 2> /dev/null
wait "$pid" 2> /dev/null
goes_on 'killed in a file'

# What is swept away, whatever its page has become meanwhile, and what is not ours to sweep.
run "$program" album "$shots" "$out" $small
for name in masters/page-0001.png.part access/page-0002a.jpg.part unfinished/page-0003.tif.part \
    report.json.part report.csv.part optics.json.part; do
    echo 'half' > "$out/$name"
done
echo 'mine' > "$out/masters/notes.part"
echo 'mine' > "$out/page-0001.part"
run "$program" album "$shots" "$out" $small
equal 'only what the program left is swept away' "$out/masters/notes.part
$out/page-0001.part" "$(parts "$out" | LC_ALL=C sort)"
rm -rf "$out"

# Killed between a page's file and its line, and then run with another setting: the file is ours.
run "$program" album "$shots" "$out" $small
sed '/"shot"/d' "$out/.squareleaf/journal" > "$dir/journal"
cp "$dir/journal" "$out/.squareleaf/journal"
ends 'files without their lines are known for ours' 0 '10 to do' \
    "$program" album "$shots" "$out" $small --quality 80
goes_on 'killed before the line'

# Page 4 done and page 3 not, as two threads may leave it: page 3 keeps its number.
run "$program" album "$shots" "$out" $small
grep -v '"page": "page-0003"' "$out/.squareleaf/journal" > "$dir/journal"
cp "$dir/journal" "$out/.squareleaf/journal"
rm "$out/masters/page-0003.tif" "$out/access/page-0003.jpg"
goes_on 'a page behind is done'

# A journal whose last line was cut short, and one with a line that is none.
run "$program" album "$shots" "$out" $small
inodes_before=$(inodes "$out")
printf '{"page": "page-00' >> "$out/.squareleaf/journal"
ends 'half a line in the journal' 0 'all done before' "$program" album "$shots" "$out" $small
echo 'no JSON' >> "$out/.squareleaf/journal"
ends 'a line that is none' 0 'all done before' "$program" album "$shots" "$out" $small
equal 'no page is done again for it' "$inodes_before" "$(inodes "$out")"
rm -rf "$out"

# ---- disk full -------------------------------------------------------------------------------

# full BLOCKS: a run that may write no file of more than BLOCKS times 512 bytes (POSIX, ulimit).
full() {
    (
        ulimit -f "$1"
        run "$program" album "$shots" "$out" $small --jobs 1
        exit "$status"
    )
    status=$?
}

full 60
equal 'no room for any page: exit status' 74 "$status"
says 'no room for any page: the page is named' 'page-0001' "$dir/stderr"
equal 'no room for any page: nothing half made' '' "$(parts "$out")"
equal 'no room for any page: no page' '' "$(inodes "$out")"
goes_on 'no room for any page'

# Between the smallest and the largest master: some fit.
largest=$(ls -l "$dir/whole/masters" | awk '$5 > most { most = $5 } END { print most }')
full $(((largest - 1) / 512))
equal 'no room for a large page: exit status' 74 "$status"
says 'no room for a large page: why' 'page-00.*: .*File too large' "$dir/stderr"
equal 'no room for a large page: nothing half made' '' "$(parts "$out")"
whole_so_far 'no room for a large page'
goes_on 'no room for a large page'

equal 'the shots are as before' "$before" "$(sums "$shots")"
close_count
