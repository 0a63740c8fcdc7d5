#!/bin/sh
# `book`: the access copies become one PDF, byte for byte, each page at its own size; words, paper,
# a size for e-mail; gaps are refused and listed, or marked.
# usage: book.sh PROGRAM

. tests/support/check.sh
begin "$1" 5
cd "$dir" || exit 1
small='--page-size 8x8in --ppi 100 --master none'
run "$program" album shots pages $small -q # shot5 is cut by the frame: to be taken again
mkdir good
cp shots/shot1.jpg shots/shot2.jpg shots/shot3.jpg good/
ends 'three good pages' 0 '' "$program" album good fine $small -q
before=$(sums fine)

# ---- the bytes and the size ------------------------------------------------------------------

ends 'book' 0 'fine.pdf: 3 pages' "$program" book fine fine.pdf
says 'it says that nothing was encoded again' 'in it unchanged' stderr
equal 'the folder is as before' "$before" "$(sums fine)"
equal 'nothing half made' '' "$(parts .)"
if have qpdf; then
    check 'qpdf --check' qpdf --check fine.pdf
    qpdf --json fine.pdf > q.json
    json 'qpdf: page labels from 1' q.json 'j["pagelabels"][0]["label"]["/St"] == 1'
    json 'qpdf: a bookmark for each page' q.json \
        '[o["title"] for o in j["outlines"]] == ["Page 1", "Page 2", "Page 3"]
        and [o["destpageposfrom1"] for o in j["outlines"]] == [1, 2, 3]'
else
    skip 'the PDF is sound' qpdf
fi
if have pdfinfo; then
    # PDF 1.7 (ISO 32000-1), 8.3.2.3: 72 units to the inch; 8 x 8 in are 576
    LC_ALL=C pdfinfo -l 3 fine.pdf > info
    equal 'pdfinfo: each page is 576 x 576 pt' 3 "$(grep -c 'size: *576 x 576 pts' info)"
    says 'pdfinfo: the title is the folder' '^Title: *fine$' info
    run grep -q CreationDate info
    equal 'pdfinfo: no clock' 1 "$status"
else
    skip 'page sizes' pdfinfo
fi
if have pdfimages; then
    pdfimages -list fine.pdf > list
    equal 'pdfimages: JPEG, 100 ppi, three of them' 3 \
        "$(awk '$9 == "jpeg" && $13 == 100 && $14 == 100 { n++ } END { print n + 0 }' list)"
    mkdir out && pdfimages -all fine.pdf out/i
    for n in 1 2 3; do
        check "pdfimages: the bytes of page $n" cmp "out/i-00$((n - 1)).jpg" \
            "fine/access/page-000$n.jpg"
    done
else
    skip 'the JPEGs are unchanged' pdfimages
fi
if have pdftoppm && have compare; then
    pdftoppm -r 100 -f 2 -l 2 -png fine.pdf drawn
    # another decoder, and a picture placed on the grid: 35 dB is common practice for no difference
    compare -metric PSNR drawn-2.png fine/access/page-0002.jpg null: 2> psnr
    check 'pdftoppm: the page looks as its copy' \
        awk '{ exit !($1 == "inf" || $1 > 35) }' psnr
else
    skip 'the page looks as its copy' 'pdftoppm or compare'
fi
"$program" book fine again.pdf -q
check 'the same album, the same bytes' cmp fine.pdf again.pdf

# 12 x 12 in at 300 ppi, as albums are
mkdir one && cp good/shot1.jpg one/
ends 'a page of 12 x 12 in' 0 '' "$program" album one large --page-size 12x12in --master none -q \
    --limit few-pixels=10
ends 'becomes a book' 0 '' "$program" book large large.pdf -q
if have pdfinfo && have pdfimages; then
    says 'pdfinfo: 864 x 864 pt' 'size: *864 x 864 pts' - << END
$(LC_ALL=C pdfinfo large.pdf)
END
    equal 'pdfimages: 3600 px at 300 ppi' '3600 3600 300 300' \
        "$(pdfimages -list large.pdf | awk 'NR == 3 { print $4, $5, $13, $14 }')"
else
    skip '864 x 864 pt, 300 ppi' 'pdfinfo or pdfimages'
fi

# ---- words -----------------------------------------------------------------------------------

if have python3; then
    python3 - << 'END'
import json
j = json.load(open("fine/report.json", encoding="utf-8"))
j["pages"][0]["words"] = {"caption": "Вера на пирсе, Ελένη", "date": "about 1934",
                          "place": "Wendlow", "people": "Ada Merrow; Tom Merrow"}
j["pages"][1]["words"] = {"caption": "long " * 400}
j["pages"][2]["words"] = {"caption": "\U00012000\U00012001"}
json.dump(j, open("fine/report.json", "w", encoding="utf-8"))
END
    ends 'captions below' 0 'page 2: its words are too long' \
        "$program" book fine words.pdf --captions below --title 'Merrow & Söhne'
    # cuneiform: hardly a font has it
    says 'letters that no font has are told of' 'page 3: no installed font has 2' stderr
    if have pdftotext; then
        pdftotext -l 1 words.pdf text
        says 'pdftotext: Cyrillic and Greek can be searched' 'Вера на пирсе, Ελένη' text
        says 'pdftotext: date, place, people' 'about 1934 · Wendlow · Ada Merrow; Tom Merrow' text
    else
        skip 'words can be searched' pdftotext
    fi
    if have pdfinfo; then
        LC_ALL=C pdfinfo -enc UTF-8 words.pdf > info
        says 'the title' '^Title: *Merrow & Söhne$' info
        check 'the band is outside of the page' awk \
            '/^Page size:/ { exit !($3 == 576 && $5 > 590 && $5 < 700) }' info
    fi
    if have qpdf; then
        qpdf --json words.pdf > q.json
        json 'qpdf: the bookmark is the caption' q.json \
            'j["outlines"][0]["title"] == "Вера на пирсе, Ελένη"'
        check 'qpdf --check' qpdf --check words.pdf
    fi
    if have pdffonts; then
        pdffonts words.pdf > fonts
        check 'pdffonts: all fonts are embedded' awk \
            'NR > 2 && $0 !~ / yes (yes|no) +(yes|no) +[0-9]+ +[0-9]+$/ { bad = 1 } END { exit bad }' fonts
    fi
else
    skip 'captions' python3
fi

# ---- paper -----------------------------------------------------------------------------------

# 210 mm less twice 10 mm of margin hold 203.2 mm at 93.5 %; letter's 215.9 mm at 96.4 %
for pair in 'a4 94 595.276 841.89' 'letter 96 612 792'; do
    set -- $pair
    ends "--paper $1" 0 "printed at $2 %" "$program" book fine "$1.pdf" --paper "$1"
    if have pdfinfo && have pdftotext; then
        check "--paper $1: the sheet" sh -c \
            'LC_ALL=C pdfinfo "$1.pdf" | grep -q "^Page size: *$3 x $4"' sh "$@"
        equal "--paper $1: the scale is printed on every sheet" 3 \
            "$(pdftotext "$1.pdf" - | grep -c "$2 % of its own size")"
    fi
done

# ---- a size for e-mail -----------------------------------------------------------------------

whole=$(wc -c < fine.pdf)
less=$((whole / 3))
ends '--max-bytes' 0 'encoded again, at' "$program" book fine mail.pdf --max-bytes "$less"
check 'it is kept' test "$(wc -c < mail.pdf)" -le "$less"
if have pdfinfo && have qpdf; then
    check 'qpdf --check' qpdf --check mail.pdf
    LC_ALL=C pdfinfo -l 3 mail.pdf > info
    equal 'with every page, at its own size' 3 "$(grep -c 'size: *576 x 576 pts' info)"
fi
ends '--max-bytes that is large enough' 0 'unchanged' \
    "$program" book fine mail2.pdf --max-bytes 1GB
"$program" book fine fine2.pdf -q
check "and changes nothing" cmp mail2.pdf fine2.pdf
ends '--max-bytes that cannot be kept' 73 'allow more' \
    "$program" book fine none.pdf --max-bytes 10kB
absent 'writes nothing' none.pdf none.pdf.part

# ---- gaps ------------------------------------------------------------------------------------

ends 'an open reshoot is refused' 2 'page 5 (shot5.jpg): to be photographed again' \
    "$program" book pages gaps.pdf
says 'with what to do' '--incomplete' stderr
absent 'and nothing written' gaps.pdf gaps.pdf.part
ends '--incomplete' 0 '1 of them blank' "$program" book pages gaps.pdf --incomplete
if have pdftotext && have pdfinfo; then
    says 'five pages' '^Pages: *5$' - << END
$(LC_ALL=C pdfinfo gaps.pdf)
END
    says 'the gap says which' 'Page 5 is missing' - << END
$(pdftotext -f 5 gaps.pdf -)
END
fi
cp -R pages lost
rm lost/access/page-0002.jpg
ends 'a lost file is a gap' 2 'page 2 (shot2.jpg): a file of it is gone' \
    "$program" book lost gaps2.pdf
if have python3; then
    for word in '"accepted"' '{"says": "accepted"}'; do
        python3 -c '
import json, sys
j = json.load(open("pages/report.json"))
j["pages"][4]["word"] = json.loads(sys.argv[1])
json.dump(j, open("pages/report.json", "w"))' "$word"
        ends "a person's word counts: $word" 0 '5 pages' \
            "$program" book pages gaps.pdf --force
    done
fi

# ---- what is refused -------------------------------------------------------------------------

echo mine > mine.pdf
ends 'a file that is there' 73 'mine.pdf exists' "$program" book fine mine.pdf
equal 'is kept' mine "$(cat mine.pdf)"
ends '--force replaces it' 0 '' "$program" book fine mine.pdf --force
# by other names
ln fine/access/page-0001.jpg page.pdf
ln good/shot1.jpg shot.pdf
ends 'a page of the album is not replaced' 73 "one of the album's pages" \
    "$program" book fine page.pdf --force
ends 'nor a shot' 73 'a shot is never written' "$program" book fine shot.pdf --force
ends 'nor a report, and a book is called one' 64 'ends in .pdf' \
    "$program" book fine fine/report.json --force
mkdir empty
ends 'a folder without pages' 66 'no folder that' "$program" book empty e.pdf
ends 'no folder' 66 'no report.json' "$program" book nowhere e.pdf
ends 'no folder for the book' 73 'folder above' "$program" book fine nowhere/e.pdf
ends 'to standard output' 64 'name of a file' "$program" book fine -
ends 'a paper that is none' 64 'a4, letter or own' "$program" book fine e.pdf --paper a3
ends 'a typo' 64 'did you mean --captions' "$program" book fine e.pdf --caption below
ends 'one name' 64 'OUT_DIR BOOK.pdf' "$program" book fine
cp -R fine broken
echo '{"schema": 1' > broken/report.json
ends 'a damaged report' 2 'damaged' "$program" book broken e.pdf
cp -R fine noisy
echo 'no JPEG' > noisy/access/page-0002.jpg
ends 'a copy that is no JPEG' 2 'page-0002.jpg is no JPEG' "$program" book noisy e.pdf
run sh -c 'ulimit -f 50; exec "$1" book fine e.pdf' sh "$program"
equal 'disk full' 74 "$status"
ends '--access none leaves nothing to bind' 0 '' "$program" album good bare --page-size 8x8in \
    --ppi 50 --access none -q --limit few-pixels=10
ends 'and the book says so' 2 'no access copy' "$program" book bare e.pdf
if ldd "$program" | grep -q 'lib[a-z]*san'; then
    skip 'a book without Pango' 'a program without sanitizers: they want to be loaded first'
else
    ends 'a book without Pango: what to install' 2 'apt-get install libpangocairo-1.0-0' \
        env SL_FAULT=loading LD_PRELOAD="$(dirname "$program")/tests/faults.so" \
        "$program" book fine e.pdf
fi
absent 'none of these wrote a file' e.pdf e.pdf.part
rm -rf "$dir/odd" && mkdir odd && cp good/shot1.jpg odd/
ends 'without a page size' 0 '' "$program" album odd plain --master none -q
ends 'the book says what is taken' 0 'taken as 300 pixels per inch' "$program" book plain plain.pdf
ends 'odd names' 0 '' "$program" book fine -- "-it's \"a\" book
; \$HOME é.pdf"
check 'and the file has it' test -s "./-it's \"a\" book
; \$HOME é.pdf"
close_count
