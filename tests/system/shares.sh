#!/bin/sh
# One album in shares: four processes, gathered, are one run by every byte; a share that died, one
# that is missing, other settings; GNU parallel and a batch system's job array as in README.md.
# usage: shares.sh PROGRAM

. tests/support/check.sh
begin "$1" 6
shots=$dir/shots
for n in 1 2 4; do cp "$shots/shot$n.jpg" "$shots/shot2$n.jpg"; printf 'x' >> "$shots/shot2$n.jpg"; done
printf 'words' > "$shots/notes.txt"
small='--page-size 8x8in --ppi 50 --fail-on never --jobs 1'
whole=$dir/whole
run "$program" album "$shots" "$whole" $small
undisturbed=$(sums "$whole")

# shares COUNT OUT...: that many shares at once, the Kth into the Kth OUT, or all into one.
shares() {
    shares_of=$1
    shift
    k=0
    pids=
    while [ $k -lt "$shares_of" ]; do
        k=$((k + 1))
        "$program" album "$shots" "$1" $small --share $k/"$shares_of" > "$dir/share$k" 2>&1 &
        pids="$pids $!"
        [ $# -eq 1 ] || shift
    done
    for pid in $pids; do
        wait "$pid" || fail "a share ends well" "status $?"
    done
}

# same_bytes WHAT OUT: every file by cmp, both ways.
same_bytes() {
    same_wrong=
    for file in $(cd "$whole" && find . -type f ! -path './.squareleaf/*'); do
        cmp -s "$whole/$file" "$2/$file" || same_wrong="$same_wrong $file"
    done
    equal "$1: cmp" '' "$same_wrong"
    equal "$1: no file more" "$undisturbed" "$(sums "$2")"
}

# ---- into one folder -------------------------------------------------------------------------

out=$dir/one
shares 4 "$out"
says 'a share says what it is' 'share 2 of 4' "$dir/share2"
absent 'shares write no report' "$out/report.json"
ends 'gathered' 0 '9 shots: ' "$program" gather "$out" --fail-on never
same_bytes 'four processes into one folder' "$out"
ends 'then the whole has nothing to do' 0 'all done before' "$program" album "$shots" "$out" --fail-on never
ends 'and there is nothing to gather' 66 'nothing to gather' "$program" gather "$out"
rm -rf "$out"

# ---- into folders of their own ---------------------------------------------------------------

out=$dir/all
shares 4 "$dir/s1" "$dir/s2" "$dir/s3" "$dir/s4"
run "$program" gather "$out" "$dir/s1" "$dir/s2" "$dir/s4"
equal 'a missing share: exit status' 2 "$status"
says 'a missing share is named' 'Not here of 4 shares: 3' "$dir/stderr"
says 'and its pages' 'page 7 .*share was not run' "$dir/stderr"
ends 'gathered later' 0 '' "$program" gather "$out" "$dir/s1" "$dir/s2" "$dir/s3" "$dir/s4" \
    --fail-on never
same_bytes 'four folders' "$out"
rm -rf "$out"

# A share that died is simply run again.
grep -v '"page": "page-0002"' "$dir/s2/.squareleaf/journal-2-of-4" > "$dir/journal"
cp "$dir/journal" "$dir/s2/.squareleaf/journal-2-of-4"
rm "$dir/s2/masters/page-0002.tif"
ends 'a share that died' 0 '2 shots, 1 to do' "$program" album "$shots" "$dir/s2" $small --share 2/4
run "$program" gather "$out" "$dir/s1" "$dir/s2" "$dir/s3" "$dir/s4"
same_bytes 'a share that died, run again' "$out"
rm -rf "$out"

printf 'x' >> "$dir/s3/masters/page-0003.tif"
ends 'a file that is not as it was' 2 'page-0003.tif is not as its share wrote it' \
    "$program" gather "$out" "$dir/s3"
rm -rf "$out"
cp -R "$dir/s1" "$dir/odd"
cp "$dir/s1/masters/page-0001.tif" "$dir/evil.tif"
sed 's|masters/page-0001.tif|../evil.tif|' "$dir/s1/.squareleaf/journal-1-of-4" \
    > "$dir/odd/.squareleaf/journal-1-of-4"
ends 'a journal that names a file elsewhere' 2 'outside of it: ../evil.tif' \
    "$program" gather "$dir/far" "$dir/odd"
rm -rf "$dir/far" "$dir/odd" "$dir/evil.tif"
run "$program" album "$shots" "$dir/s4" $small --quality 80 --share 4/4
ends 'a share with other settings' 73 'other settings' "$program" gather "$out" "$dir/s1" "$dir/s4"
rm -rf "$out"
ends 'no share' 66 'holds no share' "$program" gather "$out" "$whole"
ends '--share 5/4' 64 'a share, like 2/4' "$program" album "$shots" "$out" --share 5/4
ends '--share with --renumber' 64 'does not go with' \
    "$program" album "$shots" "$out" --share 1/4 --renumber
rm -rf "$out"

# ---- as README.md shows it -------------------------------------------------------------------

# recipe WORD: the block of README.md under the line that holds it.
recipe() {
    sed -n "/$1/,/^\`\`\`\$/p" README.md | sed -e '1,/^```/d' -e '/^```$/d'
}

# The recipes' command, with the settings of this test.
mkdir "$dir/bin"
cat > "$dir/bin/squareleaf" << END
#!/bin/sh
case \$1 in
album) exec '$program' "\$@" --page-size 8x8in --ppi 50 --fail-on never ;;
*) exec '$program' "\$@" --fail-on never ;;
esac
END
chmod +x "$dir/bin/squareleaf"
if have parallel; then
    recipe 'With GNU parallel' > "$dir/recipe"
    (cd "$dir" && PATH=$dir/bin:$PATH sh -e ./recipe > "$dir/log" 2>&1)
    equal 'GNU parallel, as in README.md: exit status' 0 "$?"
    same_bytes 'GNU parallel, as in README.md' "$dir/pages"
    rm -rf "$dir/pages"
else
    skip 'the recipe for GNU parallel' parallel
fi
recipe 'As the job array' > "$dir/recipe"
for task in 1 2 3 4; do
    (cd "$dir" && PATH=$dir/bin:$PATH TASK=$task sh -e ./recipe > "$dir/log" 2>&1) ||
        fail "task $task of the job array" "$(cat "$dir/log")"
done
recipe 'and when all tasks' > "$dir/recipe"
(cd "$dir" && PATH=$dir/bin:$PATH sh -e ./recipe > "$dir/log" 2>&1)
equal 'a job array, as in README.md: exit status' 0 "$?"
same_bytes 'a job array, as in README.md' "$dir/pages"
close_count
