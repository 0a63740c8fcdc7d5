#!/bin/sh
# `bag` makes a BagIt 1.0 bag (RFC 8493) that others find valid; `verify` names every missing,
# changed and extra file of a bag and of an album's folder.
# usage: bag.sh PROGRAM

. tests/support/check.sh
begin "$1" 5
reader=$PWD/tests/reference/bagit_read.py
cd "$dir" || exit 1
mkdir good
cp shots/shot1.jpg shots/shot2.jpg good/
odd="10% of 'it', \"é\"
"
cp shots/shot3.jpg "good/${odd}3.jpg"
run "$program" album good fine --page-size 8x8in --ppi 60 -q --limit few-pixels=10
run "$program" book fine fine/book.pdf -q
before=$(sums fine; sums good)

# read_bag WHAT BAG: the reader that was written from the RFC finds it valid.
read_bag() {
    if have python3; then
        check "$1" python3 "$reader" "$2"
    else
        skip "$1" python3
    fi
}

# ---- a bag -----------------------------------------------------------------------------------

ends 'bag' 0 'bag1/*: [0-9]* files, .*, 3 shots' "$program" bag fine bag1/
equal 'with every file of the album, and the shots' \
    "$(find fine good -path fine/.squareleaf -prune -o -type f -print0 | tr -cd '\0' | wc -c)" \
    "$(find bag1/data -type f -print0 | tr -cd '\0' | wc -c)"
read_bag 'the RFC: valid' bag1
equal 'OUT_DIR and the shots are as before' "$before" "$(sums fine; sums good)"
absent 'no half bag' bag1.part
for file in masters/page-0001.tif access/page-0003.jpg report.json report.csv book.pdf \
    shots/shot1.jpg "shots/${odd}3.jpg"; do
    check "it holds $(echo $file)" test -f "bag1/data/$file"
done
check 'a shot is the shot' cmp good/shot1.jpg bag1/data/shots/shot1.jpg
says 'CR, LF and % are encoded' "shots/10%25 of 'it', \"é\"%0A3.jpg\$" bag1/manifest-sha256.txt
# sha256sum knows no percent-encoding: all but the odd name
for n in 256 512; do
    if have sha${n}sum; then
        grep -v '%25' bag1/manifest-sha$n.txt > plain
        check "sha${n}sum -c: the payload" sh -c "cd bag1 && sha${n}sum --strict -c ../plain"
        check "sha${n}sum -c: the tag files" sh -c \
            "cd bag1 && sha${n}sum --strict -c tagmanifest-sha$n.txt"
    else
        skip "sha${n}sum -c" sha${n}sum
    fi
done
says 'bag-info: a date' '^Bagging-Date: 20[0-9][0-9]-[0-9][0-9]-[0-9][0-9]$' bag1/bag-info.txt
SOURCE_DATE_EPOCH=86400 "$program" bag fine dated1 -q
SOURCE_DATE_EPOCH=86400 "$program" bag fine dated2 -q
check 'with SOURCE_DATE_EPOCH the same bytes' diff -r dated1 dated2
says 'and that date' '^Bagging-Date: 1970-01-02$' dated1/bag-info.txt
rm -rf dated1 dated2
ends '--without-shots' 0 ' 0 shots' "$program" bag fine bag2 --without-shots
read_bag 'the RFC: valid without shots' bag2
absent 'no shots' bag2/data/shots
ends 'verify a bag' 0 'as it was bagged' "$program" verify bag1
equal 'no bar in a file' '' "$(tr -cd '\r' < stderr)"

# ---- what verify names -----------------------------------------------------------------------

# flip FILE: one bit of its middle byte.
flip() {
    flip_at=$(($(wc -c < "$1") / 2))
    flip_byte=$(od -An -tu1 -j $flip_at -N 1 "$1" | tr -d ' ')
    # shellcheck disable=SC2059  # an octal escape
    printf "$(printf '\\%03o' $((flip_byte ^ 1)))" |
        dd of="$1" bs=1 seek=$flip_at conv=notrunc 2> /dev/null
}

cp -R bag1 hurt
flip hurt/data/masters/page-0002.tif
rm hurt/data/access/page-0001.jpg
echo more > hurt/data/extra.txt
ends 'a flipped bit, a missing and an extra file' 2 'changed: data/masters/page-0002.tif' \
    "$program" verify hurt
says 'the missing one' 'missing: data/access/page-0001.jpg' stderr
says 'the extra one' 'extra: data/extra.txt' stderr
says 'the sum of the payload' 'faulty: bag-info.txt: Payload-Oxum' stderr
says 'the count' '1 missing, 1 changed, 1 faulty, 1 extra' stderr
if have python3; then
    run python3 "$reader" hurt
    equal 'the RFC finds faults too' 1 "$status"
    says 'the same: changed' 'page-0002.tif.*has other bytes' stdout
    says 'the same: missing' 'page-0001.jpg' stdout
    says 'the same: extra' 'extra.txt' stdout
fi
cp -R bag1 hurt2
flip hurt2/manifest-sha512.txt
ends 'a flipped bit in a manifest' 2 'changed: manifest-sha512.txt' "$program" verify hurt2
cp -R bag1 hurt3
echo note > hurt3/note.txt
ends 'an extra tag file' 1 'extra: note.txt' "$program" verify hurt3
rm hurt3/bagit.txt
ends 'no bagit.txt' 2 'missing: bagit.txt' "$program" verify hurt3
cp -R bag2 hurt4
printf '%064d  ../fine/report.json\n' 0 >> hurt4/manifest-sha256.txt
ends 'a path out of the bag is not followed' 2 'leads out of the bag' "$program" verify hurt4
rm -f hurt4/data/report.csv
mkfifo hurt4/data/report.csv
ends 'a pipe in place of a file is not waited for' 2 'no plain file' "$program" verify hurt4
rm -rf hurt hurt2 hurt3 hurt4

# ---- an album's folder -----------------------------------------------------------------------

ends 'verify OUT_DIR' 0 'fine: .* as it was made' "$program" verify fine
says 'what cannot be checked is counted' '1 not checked, for no run made it' stderr
ends 'and named with -v' 0 'not checked: book.pdf' "$program" verify fine -v
cp -R fine worse
flip worse/access/page-0001.jpg
flip worse/report.json
rm worse/masters/page-0002.tif
cp worse/access/page-0003.jpg worse/access/page-0009.jpg
mv good/shot2.jpg elsewhere.jpg
cp good/shot1.jpg kept.jpg
flip good/shot1.jpg
run "$program" verify worse
if [ "$status" -eq 2 ] && grep -q 'report.json' stderr; then
    pass 'a damaged report.json is told of'
else
    fail 'a damaged report.json is told of' "$status $(cat stderr)"
fi
cp fine/report.json worse/report.json
ends 'verify OUT_DIR, hurt' 2 'changed: access/page-0001.jpg' "$program" verify worse
says 'missing' 'missing: masters/page-0002.tif' stderr
says 'extra' 'extra: access/page-0009.jpg' stderr
says 'a changed shot' 'changed: .*/good/shot1.jpg: it is not the shot' stderr
says 'a shot that is gone' 'out of reach: shot2.jpg' stderr
ends '--without-shots leaves them out' 2 '1 missing, 1 changed, 1 extra, 1 not checked, for no run made it\.' \
    "$program" verify worse --without-shots
ends 'bag: a changed shot' 2 'changed: shots/shot1.jpg: not the shot' \
    sh -c 'mv elsewhere.jpg good/shot2.jpg; "$1" bag fine bag3' sh "$program"
absent 'makes none' bag3 bag3.part
mv kept.jpg good/shot1.jpg
ends 'bag: a changed page' 2 'changed: access/page-0001.jpg' sh -c \
    'cp fine/masters/page-0002.tif worse/masters/; "$1" bag worse bag3' sh "$program"
absent 'makes none' bag3 bag3.part
rm -rf worse

mv good moved
ends 'shots that moved: verify' 1 'out of reach' "$program" verify fine
ends 'says where' 0 'as it was made' "$program" verify fine --shots moved
ends 'says where, with a typo: verify' 64 '^squareleaf: --shots movd: No such' "$program" verify fine --shots movd
ends 'says where, with a typo: bag' 64 '^squareleaf: --shots movd: No such' "$program" bag fine bag3 --shots movd
mkdir nothing
ends 'says where, and they are not there: verify' 1 'not in the folder that --shots names' \
    "$program" verify fine --shots nothing
ends 'says where, and they are not there: bag' 2 'not in the folder that --shots names' \
    "$program" bag fine bag3 --shots nothing
ends 'shots that moved: bag' 2 'say where with --shots' "$program" bag fine bag3
ends 'says where' 0 '3 shots' "$program" bag fine bag3 --shots moved
read_bag 'the RFC: valid' bag3
ends 'a bag needs none: said' 0 'a bag holds its own shots' "$program" verify bag3 --shots moved
ends 'or goes on' 0 '0 shots' "$program" bag fine bag4 --incomplete
says 'and bag-info says so' '^Missing-Shot: shot1.jpg (page-' bag4/bag-info.txt
read_bag 'the RFC: valid' bag4
mv moved good

# ---- gaps ------------------------------------------------------------------------------------

run "$program" album shots gaps --page-size 8x8in --ppi 60 -q --limit few-pixels=10
ends 'an open reshoot is refused' 2 'page 5 (shot5.jpg): to be photographed again' \
    "$program" bag gaps bag5
absent 'and nothing made' bag5 bag5.part
ends '--incomplete' 0 '1 missing pages' "$program" bag gaps bag5 --incomplete
says 'bag-info names it' '^Missing-Page: page-0005 (shot5.jpg)$' bag5/bag-info.txt
check 'what there is of it is in the bag' test -f bag5/data/unfinished/page-0005.tif
read_bag 'the RFC: valid' bag5

# Two batches with the same names.
mkdir other
cp shots/shot4.jpg other/shot1.jpg
run "$program" album other fine -q
ends 'two folders of shots' 0 '4 shots' "$program" bag fine bag6
check 'stay apart' cmp other/shot1.jpg bag6/data/shots-2/shot1.jpg
read_bag 'the RFC: valid' bag6

# ---- what is refused -------------------------------------------------------------------------

ends 'a bag that is there' 73 'bag1 exists' "$program" bag fine bag1
ends 'a bag in the album' 73 "the album's own folder" "$program" bag fine fine/bag
ends 'no folder above' 73 'folder above' "$program" bag fine nowhere/bag
mkdir half.part
ends 'half a bag of a stopped run' 73 'half a bag' "$program" bag fine half
ends 'no album' 66 'no folder that' "$program" bag good bag7
ends 'verify: neither' 66 'neither a bag nor' "$program" verify good
ends 'verify: nowhere' 66 'nowhere' "$program" verify nowhere
ends 'verify: two names' 64 '' "$program" verify fine bag1
ends 'a typo' 64 'did you mean --without-shots' "$program" bag fine bag7 --without-shot
run sh -c 'ulimit -f 50; exec "$1" bag fine bag7' sh "$program"
equal 'disk full' 74 "$status"
absent 'none of these made one' bag7 bag7.part fine/bag nowhere
# A run that is stopped leaves no half bag. The large file is a hole: it takes time, not room.
dd if=/dev/null of=fine/large.bin bs=1000000 seek=300 2> /dev/null
"$program" bag fine bag8 -q > stdout 2> stderr &
pid=$!
for wait in 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20; do
    [ -d bag8.part ] && break
    sleep 0.05
done
kill -TERM $pid
wait $pid
equal 'stopped by a signal' 143 $?
absent 'no half bag is left' bag8 bag8.part
rm fine/large.bin
ends 'odd names' 0 '' "$program" bag fine -- "-it's a \"bag\"
 é"
ends 'can be verified' 0 'as it was bagged' "$program" verify -- "-it's a \"bag\"
 é"
if have script && script -qec true /dev/null > /dev/null 2>&1 < /dev/null; then
    # with a terminal there is a bar, and no more of it in the end
    script -qec "'$program' verify bag1" /dev/null > typed < /dev/null
    check 'a bar on a terminal' grep -q '\[#.*%' typed
else
    skip 'a bar on a terminal' 'script and a terminal for it'
fi
close_count
