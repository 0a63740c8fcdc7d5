#!/bin/sh
# One call that makes or changes a file fails, or one allocation: it is said, what is there under a
# page's name is whole, and the next run ends with the bytes of a run that nothing disturbed.
# usage: faults.sh PROGRAM
#   SL_FAULT_POINTS=N   about N of the calls in turn (default 6); 0: every one, some minutes

. tests/support/check.sh
begin "$1" 1
points=${SL_FAULT_POINTS-6}
shim=$(dirname "$program")/tests/faults.so
shots=$dir/small
out=$dir/pages
options='--page-size 8x8in --ppi 30 --jobs 1'

if ldd "$program" | grep -q 'lib[a-z]*san'; then
    skip 'faults' 'a program without sanitizers: they have an allocator of their own'
    close_count
    exit
fi
mkdir "$shots"
for n in 1 2; do
    "$(dirname "$program")/tests/make-shot" "$shots/shot$n.jpg" seed=$n size=400x300
done
before=$(sums "$shots")
run "$program" album "$shots" "$dir/whole" $options
equal 'an undisturbed run' 0 "$status"
undisturbed=$(sums "$dir/whole")
echo "$undisturbed" > "$dir/should"

# faulty KIND AT ERRNO: a run with that call failing.
faulty() {
    run env SL_FAULT="$1" SL_FAULT_AT="$2" SL_FAULT_ERRNO="$3" SL_FAULT_COUNT="$dir/count" \
        LD_PRELOAD="$shim" "$program" album "$shots" "$out" $options
}

# one WHAT KIND AT ERRNO STATUSES WORD: $wrong gets what is not as it should be.
one() {
    rm -rf "$out"
    faulty "$2" "$3" "$4"
    one_status=$status
    case " 0 $5 " in
    *" $status "*) ;;
    *) wrong="$wrong
$2 $3: status $status: $(tail -n 1 "$dir/stderr")" ;;
    esac
    [ "$status" -eq 0 ] || grep -q -e "$6" "$dir/stderr" || wrong="$wrong
$2 $3: status $status, no word of $6: $(tail -n 1 "$dir/stderr")"
    if [ -d "$out" ]; then
        half=$(sums "$out" | grep page- | grep -v '\.part$' | grep -v -x -F -f "$dir/should")
        [ -z "$half" ] || wrong="$wrong
$2 $3: not whole: $half"
    fi
    # a call that may fail: then nothing is amiss
    if [ "$status" -eq 0 ] && [ "$(sums "$out" | grep -v '\.part$')" != "$undisturbed" ]; then
        wrong="$wrong
$2 $3: status 0, other bytes"
    fi
    run "$program" album "$shots" "$out" $options
    [ "$status" -eq 0 ] && [ "$(sums "$out")" = "$undisturbed" ] || wrong="$wrong
$2 $3: the next run (after status $one_status) ends otherwise, status $status"
}

# every KIND ERRNO STATUSES WORD: about $points of the calls fail in turn, one a run.
every() {
    rm -rf "$out"
    faulty "$1" 0 "$2"
    calls=$(cat "$dir/count")
    equal "$1 $2: the shim alone changes nothing" "$undisturbed" "$(sums "$out")"
    step=1
    [ "$points" -eq 0 ] || step=$((calls / points + 1))
    at=1 runs=0 wrong=
    while [ "$at" -le "$calls" ]; do
        one "$1 $2" "$1" "$at" "$2" "$3" "$4"
        at=$((at + step)) runs=$((runs + 1))
    done
    equal "$1 $2: $runs of $calls calls fail in turn, one a run" '' "$wrong"
}

# errno(3): 28 ENOSPC, 5 EIO, 13 EACCES, as Linux numbers them
every io 28 '74' 'No space left on device'
every io 5 '74' 'Input/output error\|No space left'
every io 13 '74 77' 'Permission denied\|No space left'
# a page that could not be made has failed (2); after some pages were made 74 ends the run
every memory 0 '2 70 74' 'memory'
equal 'the shots are as before' "$before" "$(sums "$shots")"
close_count
