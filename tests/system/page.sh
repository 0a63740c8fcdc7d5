#!/bin/sh
# `page`: one shot becomes one file; formats, sizes, density, turns, corners; never over a shot.
# usage: page.sh PROGRAM

. tests/support/check.sh
begin "$1" 6
shot=$dir/shots/shot1.jpg
none=$dir/shots/shot6.jpg
small='--page-size 8x8in --ppi 80'
before=$(sums "$dir/shots")
cd "$dir" || exit 1

# first_bytes FILE N: in decimal.
first_bytes() { od -An -tu1 -N "$2" "$1" | tr -s ' \n' ' ' | sed 's/^ //; s/ $//'; }

# ---- formats ---------------------------------------------------------------------------------

# Signatures: TIFF 6.0 section 2 (II, 42), ISO/IEC 15948 section 5.2, ITU-T T.81 annex B.1.1.3.
for pair in 'tif 73 73 42 0' 'png 137 80 78 71 13 10 26 10' 'jpg 255 216 255'; do
    ending=${pair%% *} signature=${pair#* }
    ends "page to .$ending" 0 '640 x 640 px, 80 ppi' "$program" page "$shot" "p.$ending" $small
    equal ".$ending is one" "$signature" \
        "$(first_bytes "p.$ending" "$(echo "$signature" | wc -w | tr -d ' ')")"
done
for pair in 'tif tiff' 'png png' 'jpg jpeg'; do
    ends "page to -, --format ${pair#* }" 0 '' \
        "$program" page "$shot" - --format "${pair#* }" $small
    check "the same bytes as p.${pair% *}" cmp stdout "p.${pair% *}"
done
ends '--format goes before the ending' 0 '' "$program" page "$shot" p.data --format png $small
check 'the same bytes as p.png' cmp p.data p.png
ends 'a shot from standard input' 0 '' \
    sh -c '"$1" page - in.png --page-size 8x8in --ppi 80 < "$2"' sh "$program" "$shot"
# Name and SHA-256 of the shot are in the file; the picture is the same.
if have compare; then
    equal 'standard input: the same picture' 0 "$(compare -metric AE in.png p.png null: 2>&1)"
else
    skip 'standard input: the same picture' compare
fi
run "$program" page "$shot" deep.png --bits 16 $small
equal '--bits 16: IHDR says so (ISO/IEC 15948, 11.2.2)' 16 \
    "$(od -An -tu1 -j 24 -N 1 deep.png | tr -d ' ')"
run "$program" page "$shot" q.png -q $small
equal '-q says nothing of success' '0 ' "$status $(cat stdout stderr)"

# ---- density ---------------------------------------------------------------------------------

for ending in tif png jpg; do
    run "$program" page "$shot" "d.$ending" --page-size 8x8in
    run "$program" page "$shot" "n.$ending"
done
if have exiftool; then
    for ending in tif png jpg; do
        equal "exiftool: 300 per inch in .$ending" '300 300 inches' \
            "$(exiftool -s3 -EXIF:XResolution -EXIF:YResolution -EXIF:ResolutionUnit \
                "d.$ending" | tr '\n' ' ' | sed 's/ $//')"
        equal "exiftool: no print size claimed in .$ending" 'None' \
            "$(exiftool -s3 -EXIF:ResolutionUnit "n.$ending")"
    done
    equal 'exiftool: JFIF has no unit' 'None' "$(exiftool -s3 -JFIF:ResolutionUnit n.jpg)"
    equal 'exiftool: no pHYs' '' "$(exiftool -s3 -PNG-pHYs:all n.png)"
else
    skip 'density in files' exiftool
fi
if have identify; then
    for ending in tif jpg; do
        equal "identify: 300 per inch in .$ending" '300 300 PixelsPerInch' \
            "$(identify -format '%x %y %U' "d.$ending")"
    done
    # pHYs is per metre: 11811
    identify -format '%x %y %U' d.png > density
    check 'identify: 118.11 per cm in .png' awk '{ exit !($1 > 118.105 && $1 < 118.115 &&
        $1 == $2 && $3 == "PixelsPerCentimeter") }' density
    equal 'identify: no unit in .jpg' 'Undefined' "$(identify -format '%U' n.jpg)"
else
    skip 'density in files' identify
fi
if have tiffinfo; then
    tiffinfo d.tif > tags
    says 'tiffinfo: 300 per inch' 'Resolution: 300, 300 pixels/inch' tags
    tiffinfo n.tif > tags
    says 'tiffinfo: unitless' 'Resolution: 1, 1 *$\|unitless' tags
else
    skip 'density in files' tiffinfo
fi
run "$program" page "$shot" u.tif --page-size 8x8in --no-upsample --json --min-ppi 10
cp stdout page.json
json '--no-upsample: ppi is the whole part of native p5' page.json \
    'j["written"]["ppi"] == int(j["native_ppi"]["p5"])
    and j["written"]["width"] == 8 * j["written"]["ppi"] and not j["written"]["interpolated"]'
run "$program" page "$shot" i.tif --page-size 8x8in --json
cp stdout page.json
json 'more than the shot holds is called interpolated' page.json \
    'j["written"]["interpolated"] and j["written"]["ppi"] == 300'

# ---- turns, margin, corners ------------------------------------------------------------------

# 35 dB is common practice's limit of what is seen; two ways through the resampler round apart.
if have convert && have compare; then
    for turn in 90 180 270; do
        run "$program" page "$shot" "t$turn.png" --turn $turn $small
        convert p.png -rotate $turn want.png
        compare -metric PSNR "t$turn.png" want.png null: 2> psnr
        check "--turn $turn is the page turned" awk '{ exit !($1 == "inf" || $1 > 60) }' psnr
    done
else
    skip '--turn is the page turned' 'convert or compare'
fi
ends '--margin: what lies outside is said' 0 'outside the shot and is plain grey' \
    "$program" page "$shot" m.png --margin 60mm $small
# 203.2 mm and twice 60 mm at 80 ppi: 640 and twice 189 px
says '--margin: on all sides' '1018 x 1018 px' stderr
ends '--corners frame: the whole picture' 0 '1008 x 756 px' \
    "$program" page "$none" frame.png --corners frame
run "$program" page "$shot" found.png --json $small
cp stdout found.json
run "$program" page "$shot" exact.png --json --corners 165,52,829,38,840,700,180,714 --exact $small
cp stdout page.json
json '--exact keeps the corners' page.json \
    'all(abs(a - b) < 1e-6 for c, d in zip(j["corners"], [[165, 52], [829, 38], [840, 700],
    [180, 714]]) for a, b in zip(c, d))'
run "$program" page "$shot" near.png --json --corners 165,52,829,38,840,700,180,714 $small
cp stdout page.json
json 'without --exact they are refined: as found alone, within 0.3 px' page.json \
    'all(abs(a - b) < 0.3 for c, d in zip(j["corners"], json.load(open("found.json"))["corners"])
    for a, b in zip(c, d))'

# Exif orientation (TIFF 6.0 tag 274; Exif 2.32, 4.6.4 A): what is stored is the upright picture
# moved so that the tag's move brings it back.
if have convert && have compare; then
    convert "$shot" upright.png
    while read -r number name move; do
        # shellcheck disable=SC2086  # a move may be two words
        convert upright.png $move -orient "$name" "o$number.tif"
        run "$program" page "o$number.tif" "o$number.png" $small
        equal "orientation $number: the same page" '0 0' \
            "$status $(compare -metric AE o1.png "o$number.png" null: 2>&1)"
    done << 'ORIENTATIONS'
1 TopLeft
2 TopRight -flop
3 BottomRight -rotate 180
4 BottomLeft -flip
5 LeftTop -transpose
6 RightTop -rotate 270
7 RightBottom -transverse
8 LeftBottom -rotate 90
ORIENTATIONS
    if have identify; then
        equal 'the variants are turned' '756x1008 RightTop' \
            "$(identify -format '%wx%h %[orientation]' o6.tif)"
    fi
else
    skip 'orientations 1 to 8 give the same page' 'convert or compare'
fi

# ---- what is refused -------------------------------------------------------------------------

echo 'mine' > mine.tif
ends 'an OUT_FILE that is there' 73 'mine.tif exists' "$program" page "$shot" mine.tif $small
equal 'is kept' 'mine' "$(cat mine.tif)"
ends 'with --force it is replaced' 0 '' "$program" page "$shot" mine.tif --force $small
check 'by the page' cmp mine.tif p.tif

cp "$shot" own.jpg
ln -s own.jpg symbolic.jpg
ln own.jpg hard.jpg
own=$(cksum < own.jpg)
for name in own.jpg symbolic.jpg hard.jpg ./own.jpg; do
    ends "over the shot itself: $name" 73 'never written' \
        "$program" page own.jpg "$name" --force $small
done
ends 'over the shot itself, without --force' 73 '' "$program" page own.jpg own.jpg $small
equal 'the shot is as before' "$own" "$(cksum < own.jpg)"

ends 'an ending that is none of ours' 64 'bad.bmp.*ends in' "$program" page "$shot" bad.bmp $small
ends 'no ending' 64 'ends in' "$program" page "$shot" bad $small
ends '- without --format' 64 '' "$program" page "$shot" - $small
ends '--json and the page to -' 64 'json' "$program" page "$shot" - --format png --json $small
ends 'one operand' 64 '' "$program" page "$shot"
ends 'three corners' 64 'corners' "$program" page "$shot" bad.png --corners 1,2,3,4,5,6
ends 'a turn that is none' 64 'turn' "$program" page "$shot" bad.png --turn 45
ends 'no SHOT' 66 'none.jpg' "$program" page none.jpg bad.png
ends 'a folder that is not there' 73 'folder' "$program" page "$shot" nowhere/bad.png $small
echo 'text' > text.jpg
: > empty.jpg
head -c 20000 "$shot" > short.jpg
mkfifo pipe.jpg
ends 'text named .jpg' 2 'signature' "$program" page text.jpg bad.png
ends 'an empty file' 2 'empty' "$program" page empty.jpg bad.png
ends 'a truncated JPEG' 2 'cut short' "$program" page short.jpg bad.png
ends 'a FIFO' 2 'named pipe' "$program" page pipe.jpg bad.png
ends 'no page in the picture' 2 'nothing was written' "$program" page "$none" bad.png $small
run sh -c 'ulimit -f 50; exec "$1" page "$2" bad.tif --page-size 8x8in' sh "$program" "$shot"
equal 'disk full' 74 "$status"
says 'disk full: the file is named' 'bad.tif' stderr
absent 'none of these wrote a file' bad bad.bmp bad.png bad.tif nowhere
equal 'or left one half made' '' "$(parts .)"
ends 'cut by the frame: written, and 2' 2 'runs out' \
    "$program" page "$dir/shots/shot5.jpg" cut.png $small
check 'it may be all that is left' test -s cut.png
ends 'few pixels: 1' 1 'only' "$program" page "$shot" few.png --page-size 8x8in
ends 'few pixels, --fail-on reshoot: 0' 0 '' \
    "$program" page "$shot" few2.png --page-size 8x8in --fail-on reshoot
equal 'the shots are as before' "$before" "$(sums "$dir/shots")"
close_count
