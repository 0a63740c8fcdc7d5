#!/bin/sh
# What phones and cameras write beside JPEG: HEIC goes in, raw files are named.
# usage: inputs.sh PROGRAM

. tests/support/check.sh
begin "$1" 1
shot=$dir/shots/shot1.jpg

# Files that are raw by their ending, and a TIFF by their first bytes, as many raw files are.
printf 'II*\0\10\0\0\0\0\0\0\0\0\0\0\0' > "$dir/p.nef"
for name in p.nef p.dng P.CR2 'a b.ARW'; do
    cp "$dir/p.nef" "$dir/$name" 2> /dev/null
    ends "$name: raw, convert first" 2 'convert it to 16-bit TIFF first' \
        "$program" page "$dir/$name" "$dir/out.tif"
done
cp "$shot" "$dir/really-a-jpeg.nef"
run "$program" page "$dir/really-a-jpeg.nef" "$dir/jpeg.jpg"
[ -s "$dir/jpeg.jpg" ]
equal 'a JPEG that is only named so is read' "$?" 0

mkdir "$dir/mixed" && cp "$shot" "$dir/mixed/shot1.jpg" && cp "$dir/p.nef" "$dir/mixed/"
run "$program" album "$dir/mixed" "$dir/pages" --json
equal 'an album with a raw file: the rest is done, status 2' "$status" 2
says 'the raw file failed by name' 'p\.nef.*16-bit TIFF' "$dir/stderr"

if "$program" --version | grep -q libheif; then
    if have heif-enc; then
        check 'heif-enc makes a HEIC' sh -c "heif-enc -q 90 -o '$dir/shot.heic' '$shot' > /dev/null 2>&1"
        ends 'a HEIC becomes a page' 0 '' \
            "$program" page "$dir/shot.heic" "$dir/heic.tif" --fail-on never
        head -c 3000 "$dir/shot.heic" > "$dir/cut.heic"
        ends 'a HEIC cut short is damaged' 2 'copy it again' \
            "$program" page "$dir/cut.heic" "$dir/cut.tif"
        absent 'and leaves nothing' "$dir/cut.tif"
        if ldd "$program" | grep -q 'lib[a-z]*san'; then
            skip 'a HEIC without libheif' 'a program without sanitizers: they want to be loaded first'
        else
            ends 'a HEIC without libheif: what to install' 2 'apt-get install libheif1' \
                env SL_FAULT=loading LD_PRELOAD="$(dirname "$program")/tests/faults.so" \
                "$program" page "$dir/shot.heic" "$dir/lost.tif"
        fi
    else
        skip 'HEIC' heif-enc
    fi
else
    printf '\0\0\0\30ftypheic\0\0\0\0' > "$dir/p.heic"
    ends 'without libheif: what to do' 2 'convert it to JPEG' \
        "$program" page "$dir/p.heic" "$dir/out.tif"
fi
close_count
