#!/bin/sh
# `--access-pixels N`: access copies with at most N px on their longer side, resampled from the
# shot and not from the page, with the density that makes them the page's size.
# usage: access-pixels.sh PROGRAM

. tests/support/check.sh
begin "$1" 2
cd "$dir" || exit 1
size='--page-size 8x8in --ppi 150'
run "$program" album shots whole $size -q
ends '--access-pixels' 0 '' "$program" album shots small $size --access-pixels 500 -q
check 'the masters are as without it' \
    cmp whole/masters/page-0001.tif small/masters/page-0001.tif
if have identify; then
    equal 'identify: 500 px' '500x500' "$(identify -format '%wx%h' small/access/page-0001.jpg)"
else
    skip '500 px' identify
fi
if have exiftool; then
    # 500 px on 8 in
    equal 'exiftool: the density is that of the page' '62.5 62.5 inches' \
        "$(exiftool -s3 -EXIF:XResolution -EXIF:YResolution -EXIF:ResolutionUnit \
            small/access/page-0001.jpg | tr '\n' ' ' | sed 's/ $//')"
    # ITU-T T.871, 10.1: whole numbers
    equal 'exiftool: and JFIF has the nearest whole one' 63 \
        "$(exiftool -s3 -JFIF:XResolution small/access/page-0001.jpg)"
else
    skip 'density' exiftool
fi
if have convert && have compare; then
    # 500 px of 8 in are 62.5 ppi: the same page written at that ppi is the same picture
    run "$program" album shots direct --page-size 8x8in --ppi 62.5 --min-ppi 10 -q
    check 'the bytes of a page that is written at that ppi' sh -c \
        'convert small/access/page-0001.jpg a.ppm; convert direct/access/page-0001.jpg b.ppm;
        cmp a.ppm b.ppm'
    # ImageMagick's Lanczos in linear light, from the master; 35 dB: common practice for alike
    convert whole/masters/page-0001.tif -colorspace RGB -filter Lanczos -resize 500x500 \
        -colorspace sRGB im.png
    compare -metric PSNR im.png small/access/page-0001.jpg null: 2> psnr
    check 'and what ImageMagick makes of the master' awk '{ exit !($1 > 35) }' psnr
else
    skip 'the picture' 'convert or compare'
fi
ends 'it is remembered' 0 'as in the last run:.* --access-pixels 500' "$program" album shots small
says 'and nothing is done again' 'all done before' stderr
ends 'all: as many as the page has' 0 'Done again' \
    "$program" album shots small --access-pixels all
check 'as without it' cmp whole/access/page-0001.jpg small/access/page-0001.jpg
ends 'more than the page has' 0 '' \
    "$program" album shots large $size --access-pixels 5000 --master none -q
check 'adds none' cmp whole/access/page-0001.jpg large/access/page-0001.jpg
ends 'without a page size' 0 '' "$program" album shots plain --access-pixels 300 --master none -q
if have identify; then
    equal 'identify: the longer side has 300 px' 300 "$(identify -format '%w\n%h\n' \
        plain/access/page-0001.jpg | sort -n | tail -n 1)"
fi
ends 'no number' 64 'from 64 to 65500' "$program" album shots bad --access-pixels small
ends 'too few' 64 'from 64 to 65500' "$program" album shots bad --access-pixels 10
close_count
