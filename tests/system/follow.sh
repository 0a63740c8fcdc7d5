#!/bin/sh
# While shooting: shots that arrive during the run, one of them slowly, one late.
# usage: follow.sh PROGRAM

. tests/support/check.sh
begin "$1" 2
mkdir "$dir/card"
small='--page-size 12x12in --ppi 60 --min-ppi 30'

# shellcheck disable=SC2086 # $small is several words
"$program" album "$dir/card" "$dir/pages" $small --follow 2> "$dir/said" > /dev/null < /dev/null &
follower=$!

# waits WORD: until it is said, 30 s at most
waits() {
    waits_left=150
    while ! grep -q "$1" "$dir/said" && [ "$waits_left" -gt 0 ]; do
        sleep 0.2
        waits_left=$((waits_left - 1))
    done
    says "said while it goes on: $1" "$1" "$dir/said"
}

waits 'following'
# the second part comes late: were the first taken, the page would fail as damaged
head -c 20000 "$dir/shots/shot1.jpg" > "$dir/card/shot1.jpg"
sleep 1.3
tail -c +20001 "$dir/shots/shot1.jpg" >> "$dir/card/shot1.jpg"
waits 'page-0001 (shot1.jpg): '
# the card is taken out, and comes back with one shot more
mv "$dir/card" "$dir/out"
waits 'cannot be read now; it is tried again'
mv "$dir/out" "$dir/card"
cp "$dir/shots/shot2.jpg" "$dir/card/"
waits 'page-0002 (shot2.jpg): '
kill -s INT "$follower"
wait "$follower"
equal 'Ctrl-C ends it by its pages' "$?" 0
says 'with the summary' '2 shots: 2 pass' "$dir/said"
check 'a half-copied file was not taken' test "$(grep -c failed "$dir/said")" -eq 0

# shellcheck disable=SC2086
ends 'a later run has nothing to do' 0 'all done before' "$program" album "$dir/card" "$dir/pages" $small
# the lens was settled with the first shot: as in a run that has only that one
mkdir "$dir/first"
cp "$dir/shots/shot1.jpg" "$dir/first/"
# shellcheck disable=SC2086
run "$program" album "$dir/first" "$dir/plain" $small -q
cp "$dir/shots/shot2.jpg" "$dir/first/"
# shellcheck disable=SC2086
run "$program" album "$dir/first" "$dir/plain" $small -q
for page in page-0001 page-0002; do
    check "the bytes of ordinary runs: $page" cmp "$dir/pages/masters/$page.tif" \
        "$dir/plain/masters/$page.tif"
done

ends 'no such folder' 66 '^squareleaf: there is no folder' timeout 20 "$program" album "$dir/nowhere" "$dir/none" --follow
ends 'nothing that does all again' 64 'does not go with' "$program" album "$dir/card" "$dir/pages" \
    --follow --redo
close_count
