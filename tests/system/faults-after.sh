#!/bin/sh
# What comes after an album's run (gather, captions, review, book, bag), with one call that makes or
# changes a file failing, or one allocation: it is said, nothing half made is left, and the command run again makes
# what it would have made.
# usage: faults-after.sh PROGRAM
#   SL_FAULT_POINTS=N   about N of the calls of each in turn (default 6); 0: every one

. tests/support/check.sh
begin "$1" 1
points=${SL_FAULT_POINTS-6}
shim=$(dirname "$program")/tests/faults.so
if ldd "$program" | grep -q 'lib[a-z]*san'; then
    skip 'faults' 'a program without sanitizers: they have an allocator of their own'
    close_count
fi
cd "$dir" || exit 1
mkdir small
for n in 1 2; do
    "$(dirname "$program")/tests/make-shot" "small/shot$n.jpg" seed=$n size=400x300
done
options='--page-size 8x8in --ppi 30 --jobs 1 -q'
# shellcheck disable=SC2086 # several words
for part in 1 2; do run "$program" album small share$part $options --share $part/2; done
# shellcheck disable=SC2086
run "$program" album small pages $options
equal 'an undisturbed run' 0 "$status"

# made PATH: what a command made, all of it but the journal and a bag's date
made() {
    if [ -d "$1" ]; then sums "$1" | grep -v -e bag-info.txt -e tagmanifest; elif [ -e "$1" ]; then cksum < "$1"; fi
}

# faulty AT COMMAND...: the program with that call failing
faulty() {
    faulty_at=$1
    shift
    run env SL_FAULT="$kind" SL_FAULT_AT="$faulty_at" SL_FAULT_COUNT="$dir/count" LD_PRELOAD="$shim" \
        "$program" "$@"
}

# each PLACE MADE COMMAND...: about $points of its calls fail in turn, on a fresh copy of PLACE
each() {
    place=$1 what=$2
    shift 2
    rm -rf work && cp -a "$place" work
    faulty 0 "$@"
    equal "$1, $kind: undisturbed" 0 "$status"
    should=$(made "$what")
    calls=$(cat count)
    step=1
    [ "$points" -eq 0 ] || step=$((calls / points + 1))
    at=1 runs=0 wrong=
    while [ "$at" -le "$calls" ]; do
        rm -rf work && cp -a "$place" work
        faulty "$at" "$@"
        case $status in
        0) [ "$(made "$what")" = "$should" ] || wrong="$wrong
$at: status 0, other bytes" ;;
        70 | 74) grep -q "$word" stderr || wrong="$wrong
$at: no word of it: $(cat stderr)" ;;
        *) wrong="$wrong
$at: status $status: $(cat stderr)" ;;
        esac
        [ -z "$(parts work)" ] || wrong="$wrong
$at: half made: $(parts work)"
        # a bag that is there is a bag
        [ "$status" -eq 0 ] || run "$program" "$@"
        if [ "$status" -ne 0 ] && ! grep -q 'gathered before' stderr; then
            wrong="$wrong
$at: again: status $status: $(cat stderr)"
        fi
        [ "$(made "$what")" = "$should" ] || wrong="$wrong
$at: again: other bytes"
        at=$((at + step)) runs=$((runs + 1))
    done
    equal "$1, $kind: $runs of $calls calls fail in turn, one a run" '' "$wrong"
}

mkdir shares album
mv share1 share2 shares
cp -a pages album
for kind in io memory; do
    word='No space left on device'
    [ $kind = io ] || word='memory'
    each shares work/all gather work/all work/share1 work/share2 -q
    each pages work captions work -q
    each pages work review work -q
    each album work/book.pdf book work/pages work/book.pdf --force -q
    each album work/bag bag work/pages work/bag -q
done
close_count
