#!/bin/sh
# What happens to people: folders renamed, pages edited, disks full, the wrong page size. Each mishap
# befalls an album of four made pages. It is told as a story: what was done, what the program said,
# how it ended, what is left of the pages; and each promise that the program made about it is checked.
# Lines that every run has are left out of the story.
# usage: mishaps.sh PROGRAM
#   SL_STORY=1   tells only the story, and broken promises; scripts/mishaps builds and does that

. tests/support/check.sh
[ -z "${SL_STORY-}" ] || pass() { passed=$((passed + 1)); }
begin "$1" 8 # 1 2 4 7 8 are good
mkdir "$dir/bin" "$dir/new" "$dir/album" "$dir/album/shots"
ln -s "$program" "$dir/bin/squareleaf"
PATH=$dir/bin:$PATH
export PATH
# leaf-1 to leaf-4; new/leaf-5 comes later
for pair in 1:1 2:2 3:4 4:7; do
    mv "$dir/shots/shot${pair#*:}.jpg" "$dir/album/shots/leaf-${pair%:*}.jpg"
done
mv "$dir/shots/shot8.jpg" "$dir/new/leaf-5.jpg"
cd "$dir/album" || exit 1
size='--page-size 8x8in --ppi 40'
# shellcheck disable=SC2086 # several words
run squareleaf album shots pages $size
equal 'the album is made' 0 "$status"
cp -a "$dir/album" "$dir/made"

# ---- telling ---------------------------------------------------------------------------------

number=0

# pages_of FOLDER: checksum and name of masters and access copies, also of those not to be
pages_of() {
    [ ! -d "$1" ] || (cd "$1" && find masters access unfinished -type f ! -name '.*' \
        -exec cksum {} + 2> /dev/null | sort -k 3)
}

# mishap TITLE: the album as it was made, untouched
mishap() {
    number=$((number + 1))
    cd "$dir" && chmod -R u+w album && rm -rf album && cp -a made album && cd album || exit 1
    kept=pages
    before=$(pages_of pages)
    shots_before=$(sums shots)
    printf '\n%2d. %s\n' "$number" "$1"
}

# does COMMAND...: a person does it
does() {
    printf '    does    %s\n' "$*"
    "$@"
}

# types LINE: the same in the shell
types() {
    printf '    does    %s\n' "$1"
    sh -c "$1"
}

# shown FILE: messages, without those that every run has
shown() {
    sed -e '/^squareleaf: as in the last run: --page-size 203.2x203.2mm --ppi 40 (/d' \
        -e '/^These shots hold /d' -e '/^The shots bear no colour profile/d' -e '/^Pages: /d' \
        -e '/^Look the pages through/d' "$1" | sed 's/^/            | /'
}

# ended STATUS: $status is that, and is told with what was said
ended() {
    shown "$dir/stderr"
    printf '    status  %s\n' "$status"
    equal 'it ends so' "$1" "$status"
}

# runs STATUS COMMAND...: the program's run, and how it ends
runs() {
    runs_status=$1
    shift
    printf '    runs    %s\n' "$*"
    run "$@"
    ended "$runs_status"
}

# said WORD: it was said
said() { says "it says: $1" "$1" "$dir/stderr"; }

# left WHAT-CHANGED: names of the files that are not as before, new and gone ones too; '' for none
left() {
    pages_of "$kept" > "$dir/now"
    echo "$before" | sed '/^$/d' > "$dir/was"
    changed=$(cat "$dir/was" "$dir/now" | sort | uniq -u | sed 's/^[0-9]* [0-9]* //' | sort -u |
        tr '\n' ' ' | sed 's/ $//')
    whole=$(sort "$dir/was" "$dir/now" | uniq -d | wc -l | tr -d ' ')
    printf '    left    %s of %s files as before%s%s\n' "$whole" "$(wc -l < "$dir/was" | tr -d ' ')" \
        "${changed:+; not so: }" "$changed"
    equal 'the pages are as they should be' "$1" "$changed"
    equal 'no file half made' '' "$(parts "$kept")"
}

both() {
    for both_page in "$@"; do printf 'access/page-%s.jpg ' "$both_page"; done
    for both_page in "$@"; do printf 'masters/page-%s.tif ' "$both_page"; done
}
pages() { both "$@" | sed 's/ $//'; }
all=$(pages 0001 0002 0003 0004)

shots_kept() { equal 'no shot is touched' "$shots_before" "$(sums "${1-shots}")"; }

# appears FILE: until it is there, 30 s at most
appears() {
    appears_left=3000
    while [ ! -e "$1" ] && [ "$appears_left" -gt 0 ]; do
        sleep 0.01
        appears_left=$((appears_left - 1))
    done
}

# ---- folders ---------------------------------------------------------------------------------

mishap 'The folder of pages gets another name'
does mv pages flat
kept=flat
runs 0 squareleaf album shots flat
said 'all done before'
left ''

mishap 'The folder of shots gets another name'
does mv shots photos
runs 0 squareleaf album photos pages
said 'only compared, and their pages stay'
left ''

mishap 'Everything moves to another disk, which sets all times anew'
does cp -R shots pages ../new
kept=$dir/new/pages
cd "$dir/new" || exit 1
runs 0 squareleaf album shots pages
said 'only compared, and their pages stay'
left ''
rm -rf "$dir/new/shots" "$dir/new/pages"

mishap 'The folder of pages lies in the folder of shots'
does mv pages shots
kept=shots/pages
runs 0 squareleaf album shots shots/pages
said 'all done before'
left ''

mishap 'One folder is given for both'
runs 64 squareleaf album shots shots
said 'need a folder of their own'
left ''
shots_kept

mishap 'The two folders are given the wrong way round'
runs 64 squareleaf album pages shots
said 'the folder of shots is named first'
left ''
shots_kept

mishap 'The folder of shots is empty'
does mkdir card
runs 66 squareleaf album card flat
said '^squareleaf: card holds no pictures'
said 'holds no pictures'
absent 'nothing is made' flat
left ''

mishap 'The folder of shots is not there: its disk is not plugged in'
runs 66 squareleaf album /media/nowhere/shots pages
said '^squareleaf: there is no folder /media/nowhere/shots'
left ''

mishap 'The shots lie one folder deeper than thought'
does mkdir deep
does mv shots deep/shots
runs 66 squareleaf album deep flat
said 'squareleaf album deep/shots flat/shots'
absent 'nothing is made' flat
left ''

# ---- pages and reports -----------------------------------------------------------------------

mishap 'A master is retouched'
types 'printf retouched >> pages/masters/page-0002.tif'
before=$(pages_of pages)
runs 0 squareleaf album shots pages
said 'somebody changed them: page 2$'
left ''

mishap 'A master is retouched, and then all pages are to be made otherwise'
types 'printf retouched >> pages/masters/page-0002.tif'
before=$(pages_of pages)
runs 2 squareleaf album shots pages --margin 5mm
said 'masters/page-0002.tif .*move it away, or run with --force'
left "$(pages 0001 0003 0004)"

mishap 'A page is deleted'
does rm pages/masters/page-0003.tif
runs 0 squareleaf album shots pages
said 'files of theirs are missing: page 3$'
said '1 to do'
left ''

mishap 'The report is deleted, and review.html'
does rm pages/report.json pages/report.csv pages/review.html
runs 0 squareleaf album shots pages
said 'all done before'
check 'they are there again' test -s pages/report.json -a -s pages/report.csv -a -s pages/review.html
left ''

mishap 'The report gets notes in a spreadsheet'
types 'echo "ask Ada about page 3" >> pages/report.csv'
runs 0 squareleaf album shots pages
said 'report.csv'
check 'the notes are there' grep -q 'ask Ada' pages/report-changed.csv
equal 'and the report is of the run' 5 "$(wc -l < pages/report.csv | tr -d ' ')"
left ''

mishap 'The hidden folder .squareleaf is deleted: the journal is lost'
does rm -r pages/.squareleaf
runs 73 squareleaf album shots pages
said 'no .squareleaf .* put that folder back'
left ''
runs 0 squareleaf album shots pages --page-size 8x8in --ppi 40 --force
left ''

# ---- shots -----------------------------------------------------------------------------------

mishap 'A shot gets another name'
does mv shots/leaf-2.jpg shots/second-leaf.jpg
runs 0 squareleaf album shots pages
said 'page 2; .* only compared'
said 'pages keep their numbers, or --renumber gives'
left ''

mishap 'Two shots swap their names'
does mv shots/leaf-2.jpg shots/x
does mv shots/leaf-3.jpg shots/leaf-2.jpg
does mv shots/x shots/leaf-3.jpg
runs 0 squareleaf album shots pages
said 'another order than their pages'
left ''

mishap 'A page is photographed again, under the same name'
does cp ../new/leaf-5.jpg shots/leaf-2.jpg
runs 0 squareleaf album shots pages
said 'their shots are others now: page 2$'
said '1 to do'
left "$(pages 0002)"

mishap 'A shot is removed'
does rm shots/leaf-2.jpg
runs 0 squareleaf album shots pages
said 'page 2'
left ''

mishap 'A shot is opened and saved as it was: a new time, the same bytes'
does touch shots/leaf-2.jpg
runs 0 squareleaf album shots pages
said 'page 2; .* only compared'
left ''

mishap 'A forgotten leaf is photographed later'
does cp ../new/leaf-5.jpg shots/leaf-2-forgotten.jpg
runs 0 squareleaf album shots pages
said '5 shots, 1 to do'
left "$(pages 0002a)"

mishap 'A shot is still being copied'
types 'head -c 30000 ../new/leaf-5.jpg > shots/leaf-5.jpg'
runs 2 squareleaf album shots pages
said 'leaf-5.jpg): failed: .*cut short .*copy it again'
left ''
does cp ../new/leaf-5.jpg shots/leaf-5.jpg
runs 0 squareleaf album shots pages
said '1 to do'
left "$(pages 0005)"

mishap 'Something else is called .jpg'
types 'echo "buy milk" > shots/leaf-5.jpg'
runs 2 squareleaf album shots pages
said 'leaf-5.jpg): failed: .*copy it again'
left ''

mishap 'The camera writes a raw file beside each picture'
for leaf in 1 2 3 4; do printf 'II*\0raw' > "shots/leaf-$leaf.dng"; done
printf '    does    leaf-1.dng to leaf-4.dng are there too\n'
runs 0 squareleaf album shots pages
said '4 shots, all done before'
said '4 other files skipped'
left ''

mishap 'There are only raw files, and then they are converted'
printf 'II*\0raw' > shots/leaf-5.dng
printf '    does    leaf-5.dng is there\n'
runs 2 squareleaf album shots pages
said 'leaf-5.dng): failed: .*convert it to 16-bit TIFF first'
left ''
does cp ../new/leaf-5.jpg shots/leaf-5.jpg
runs 0 squareleaf album shots pages
left "$(pages 0005)"

mishap "The camera's counter wraps: 9999 is followed by 0001"
does rm -r pages
kept=flat before=
n=9998
for leaf in 1 2 3 4; do
    # the counter is in the name, the time in the file: one minute later each
    LC_ALL=C sed "s/2026:03:14 10:02:11/2026:03:14 10:0$leaf:11/g" shots/leaf-$leaf.jpg \
        > "shots/pic_$(printf %04d $n).jpg"
    rm shots/leaf-$leaf.jpg
    n=$((n % 9999 + 1))
done
printf '    does    the shots are pic_9998, pic_9999, pic_0001, pic_0002\n'
# shellcheck disable=SC2086
runs 0 squareleaf album shots flat $size
said 'counter began again: .*--order time (and --renumber'
runs 0 squareleaf album shots flat --order time
said 'pages keep their numbers, or --renumber'
runs 0 squareleaf album shots flat --order time --renumber
check 'the shot 9998 is page 1' grep -q '^page-0001,pic_9998' flat/report.csv
left "$all"

# ---- settings --------------------------------------------------------------------------------

mishap 'The page size was wrong at first'
does rm -r pages
runs 1 squareleaf album shots pages --page-size 8x10in --ppi 40
said 'The whole album'
before=$(pages_of pages)
runs 0 squareleaf album shots pages --page-size 8x8in
said 'pages 1 to 4'
left "$all"

mishap 'An option is spelt wrong'
runs 64 squareleaf album shots pages --page-sise 8x8in
said '--page-size'
left ''

mishap 'A length without its unit'
runs 64 squareleaf album shots pages --page-size 8x8
said 'wants a size like 12x12in, 210x297mm'
left ''

mishap 'A pattern that gives two pages one name'
does cp shots/leaf-1.jpg 'shots/Leaf 1.jpg'
runs 64 squareleaf album shots flat $size --name '{shot}'
said 'would both be called leaf-1: put {page} into it'
left ''

# ---- the machine -----------------------------------------------------------------------------

mishap 'Two runs at once'
does rm -r pages
printf '    runs    squareleaf album shots pages %s &\n' "$size"
# shellcheck disable=SC2086
squareleaf album shots pages $size > /dev/null 2>&1 &
first=$!
appears pages/.squareleaf/journal
kill -s STOP "$first"
runs 75 squareleaf album shots pages $size
said 'another run is working on pages'
kill -s CONT "$first"
wait "$first"
equal 'the first run ends well' 0 "$?"
left ''

mishap 'The power fails in the midst of a page'
types 'head -c 20000 pages/masters/page-0003.tif > pages/masters/page-0003.tif.part'
does rm pages/masters/page-0003.tif pages/access/page-0003.jpg
types 'printf "{\"page\":\"page-00" >> pages/.squareleaf/journal'
runs 0 squareleaf album shots pages
said '1 to do'
left ''

mishap 'A camera card with another album has the same names'
for shot in 1 2 3; do cp "$dir/new/leaf-5.jpg" "shots/leaf-$shot.jpg"; echo $shot >> "shots/leaf-$shot.jpg"; done
printf '    does    the shots of leaf-1, leaf-2 and leaf-3 are now other pictures\n'
runs 73 squareleaf album shots pages
said 'for another album choose another folder'
left ''

mishap 'Ctrl-C'
does rm -r pages
printf '    runs    squareleaf album shots pages %s, and Ctrl-C\n' "$size"
# shellcheck disable=SC2086
squareleaf album shots pages $size --jobs 1 > /dev/null 2> "$dir/stderr" &
first=$!
appears pages/masters/page-0002.tif
kill -s INT "$first"
wait "$first"
status=$?
ended 130
said 'run the same command again to go on'
# shellcheck disable=SC2086
runs 0 squareleaf album shots pages $size
if grep -q 'again' "$dir/stderr"; then
    fail 'nothing is called done again that never was' "$(cat "$dir/stderr")"
fi
left ''

mishap 'The disk with the shots is unplugged in the midst of a run'
does rm -r pages
printf '    runs    squareleaf album shots pages %s, and the shots are gone\n' "$size"
# shellcheck disable=SC2086
squareleaf album shots pages $size --jobs 1 > /dev/null 2> "$dir/stderr" &
first=$!
appears pages/masters/page-0001.tif
mv shots unplugged
wait "$first"
status=$?
ended 74
said 'the folder of shots is gone: is its disk still plugged in'
does mv unplugged shots
# shellcheck disable=SC2086
runs 0 squareleaf album shots pages $size
left ''

mishap 'A share of the work died, and was not done again'
does rm -r pages
# shellcheck disable=SC2086
runs 0 squareleaf album shots pages $size --share 1/2 -q
runs 2 squareleaf gather pages
left "$(pages 0002 0004)"
# shellcheck disable=SC2086
runs 0 squareleaf album shots pages $size --share 2/2 -q
runs 0 squareleaf gather pages
said '^4 shots: 4 pass'
equal 'and no share is called missing that is not' 0 "$(grep -c 'Not here' "$dir/stderr")"
left ''

# A disk of our own, in a mount namespace that an ordinary user may make: no right is needed.
if ! unshare -rm sh -c 'mount -t tmpfs -o size=64k none "$1"' sh "$dir/new" 2> /dev/null; then
    skip 'a full disk and a read-only one' 'unshare with a tmpfs'
    close_count
fi

# on_disk OPTIONS COMMAND: in $dir/album, pages is a disk mounted with these options
on_disk() {
    unshare -rm sh -c 'mount -t tmpfs -o "$1" none pages && eval "$2"' sh "$1" "$2"
}

mishap 'The disk becomes full'
does rm -r pages
mkdir pages
printf '    runs    squareleaf album shots pages %s, and 300 kB are free\n' "$size"
on_disk size=10m "head -c 10158080 /dev/zero > pages/film.bin
    squareleaf album shots pages $size --jobs 1 2> '$dir/stderr'; echo \$? > '$dir/status'
    cp -R pages '$dir/full'; rm pages/film.bin '$dir/full/film.bin'
    squareleaf album shots pages 2> '$dir/again'; echo \$? >> '$dir/status'; cp -R pages '$dir/room'"
status=$(sed -n 1p "$dir/status")
ended 74
said 'No space left on device'
said 'what is finished is whole; make room'
kept=$dir/full
pages_of "$kept" > "$dir/now"
equal 'what is there is whole' '' "$(grep -v -x -F "$before" "$dir/now")"
check 'and there is some' test -s "$dir/now"
printf '    left    %s of 8 files, whole\n' "$(wc -l < "$dir/now" | tr -d ' ')"
printf '    does    rm pages/film.bin\n'
printf '    runs    squareleaf album shots pages\n'
mv "$dir/again" "$dir/stderr"
status=$(sed -n 2p "$dir/status")
ended 0
kept=$dir/room
left ''
rm -rf "$dir/full" "$dir/room"

mishap 'The disk is read-only'
printf '    runs    squareleaf album shots pages, and pages is read-only\n'
unshare -rm sh -c 'mount --bind pages pages && mount -o remount,bind,ro pages && cd . &&
    squareleaf album shots pages 2> "$1"; echo $? > "$2"' sh "$dir/stderr" "$dir/status"
status=$(cat "$dir/status")
ended 77
said 'nothing can be written into pages (Read-only file system'
left ''

close_count
