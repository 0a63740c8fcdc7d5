#!/bin/sh
# The table of words: written, filled in, read back, and what comes of it in the pages' files.
# exiftool is the authority for what a file says.
# usage: captions.sh PROGRAM

. tests/support/check.sh
begin "$1" 2
out=$dir/pages
table=$out/captions.csv
if have exiftool; then
    exiftool -q -overwrite_original -GPSLatitude=53.25 -GPSLatitudeRef=N -GPSLongitude=1.5 \
        -GPSLongitudeRef=W "$dir/shots/shot1.jpg"
fi
album() { run "$program" album "$dir/shots" "$out" --fail-on never --page-size 12x12in --ppi 60 --min-ppi 30 "$@"; }

ends 'no album yet: says so' 66 'album' "$program" captions "$dir"
album
ends 'captions writes a table' 0 '2 of them new' "$program" captions "$out"
says 'with a row a page' '^shot1.jpg,page-0001,,,,' "$table"
cp "$table" "$dir/before"
ends 'a second time there is nothing new' 0 'left as it is' "$program" captions "$out"
check 'and the table is not touched' cmp "$table" "$dir/before"

# Filled in, with what spreadsheets do: quotes, a semicolon, a column of one's own.
printf 'shot,page,caption,date,place,people,my notes\r\nshot1.jpg,page-0001,"Hay, ""the"" <last> day",about 1934,Alder Mere,"Ada Pell; Ben Pell",x\r\n' > "$table"
inodes "$out" > "$dir/inodes1"
album
says 'the run names the table' 'Captions: .*captions\.csv' "$dir/stderr"
says 'and the page that is made again' 'new captions: page 1$' "$dir/stderr"
inodes "$out" > "$dir/inodes2"
equal 'only that page was made again' "$(grep -c page-0002 "$dir/inodes1")" \
    "$(cat "$dir/inodes1" "$dir/inodes2" | grep page-0002 | sort | uniq -d | wc -l)"
ends 'new rows are added' 0 '1 of them new' "$program" captions "$out"
says 'what is filled in stays, the own column too' '<last> day",about 1934,Alder Mere,"Ada Pell; Ben Pell",x' "$table"
says 'the missing page is there' '^shot2.jpg,page-0002,' "$table"
json 'the report has the words' "$out/report.json" \
    'j["pages"][0]["words"] == {"caption": "Hay, \"the\" <last> day", "date": "about 1934", "place": "Alder Mere", "people": "Ada Pell; Ben Pell"}'

if have exiftool; then
    for file in masters/page-0001.tif access/page-0001.jpg; do
        exiftool -q -n -s -s -a "$out/$file" > "$dir/said"
        says "$file: caption" '^Description: Hay, "the" <last> day (about 1934)$' "$dir/said"
        says "$file: caption in Exif" '^ImageDescription: Hay, "the" <last> day (about 1934)$' "$dir/said"
        says "$file: people" '^PersonInImage: Ada Pell, Ben Pell$' "$dir/said"
        says "$file: date" '^DateCreated: 1934$' "$dir/said"
        says "$file: date in words" '^ArtworkCircaDateCreated: about 1934$' "$dir/said"
        says "$file: the shot" '^DerivedFromDocumentID: sha256:[0-9a-f]\{64\}$' "$dir/said"
        equal "$file: no day, no original date" "$(grep -c '^DateTimeOriginal' "$dir/said")" 0
        case $file in
        masters/*)
            says 'the master tells the place' '^Location: Alder Mere$' "$dir/said"
            says 'and the position' '^GPSLatitude: 53.25$' "$dir/said"
            ;;
        *)
            equal 'the access copy tells no place' "$(grep -c -e Location -e GPS "$dir/said")" 0
            ;;
        esac
    done
    album --keep-location
    exiftool -q -n -s -s "$out/access/page-0001.jpg" > "$dir/said"
    says '--keep-location: the place' '^Location: Alder Mere$' "$dir/said"
    says '--keep-location: the position' '^GPSLongitude: -1.5$' "$dir/said"
else
    skip 'what the files say' exiftool
fi

# The other separators, with and without a mark; and what is no such table.
printf 'page;date;caption\npage-0002;1934-07-02;"a;b"\n' > "$table"
album
json 'semicolons' "$out/report.json" 'j["pages"][1]["words"] == {"caption": "a;b", "date": "1934-07-02"}'
printf '\357\273\277Shot\tCaption\nshot2.jpg\tGr\303\274\303\237e\n' > "$dir/tabs.csv"
album --captions "$dir/tabs.csv"
json 'tabs, a mark, --captions' "$out/report.json" 'j["pages"][1]["words"] == {"caption": "Gr\u00fc\u00dfe"}'
album --captions "$dir/none.csv"
says 'a table that is not there' 'none\.csv' "$dir/stderr"

bad() { # WHAT WORD: $table is refused, and stays
    cp "$table" "$dir/bad"
    album
    says "$1" "$2.*CSV UTF-8" "$dir/stderr"
    equal "$1: nothing was begun" 64 "$status"
    run "$program" captions "$out"
    check "$1: left as it is" cmp "$table" "$dir/bad"
}
printf 'page,caption\npage-0001,ok\npage-0002,Gr\374n\n' > "$table"
bad 'Latin-1' 'row 3, column 2 (caption): a character that is not UTF-8'
printf '\377\376p\0a\0g\0e\0' > "$table"
bad 'UTF-16' 'row 1, column 1: this is UTF-16'
printf 'page,caption\npage-0001,the "old" mill\n' > "$table"
bad 'a quote inside' 'row 2, column 2 (caption): a quote inside'
printf 'page,caption\npage-0001,"open\n' > "$table"
bad 'an open quote' 'a quote that is not closed'
printf 'page,caption\npage-0001,a,b\n' > "$table"
bad 'too many columns' 'row 2, column 3: more columns'
printf 'page,caption\npage-0001,a\npage-0001,b\n' > "$table"
bad 'a page twice' 'rows 2 and 3'
printf 'a,b\n1,2\n' > "$table"
bad 'no such columns' 'row 1, column 1: no column is named page'
for wrong in captoin capton captions Capttion cabtion; do
    printf 'page,%s,date\npage-0001,a,1934\n' $wrong > "$table"
    bad "a title misspelt: $wrong" "row 1, column 2: '$wrong' is no title"
done
printf 'page,note\npage-0001,a\n' > "$table"
bad 'no words at all' 'no column is named caption, date, place or people'
: > "$table"
bad 'an empty file' 'no column is named page'

# Corrections say something else: the table wins, and the run says so.
sha=$(sha256sum "$dir/shots/shot1.jpg" | cut -d' ' -f1)
printf '{"schema": 1, "kind": "squareleaf corrections", "saved": "2026-03-14T10:02:11Z", "shots": {"%s": {"shot": "shot1.jpg", "page": "page-0001", "size": [4032, 3024], "caption": "from the review", "place": "Elm"}}}' "$sha" > "$dir/shots/corrections.json"
rm "$table"
printf 'page,caption\npage-0001,from the table\npage-0009,nobody\n' > "$dir/shots/captions.csv"
album
says 'the table wins over corrections, and that is said' 'win over corrections: page-0001' "$dir/stderr"
says 'a row without a page is named' 'row 3.*page-0009' "$dir/stderr"
json 'word by word' "$out/report.json" \
    'j["pages"][0]["words"] == {"caption": "from the table", "place": "Elm"}'

# Names and words that a spreadsheet would take for formulas ('CSV injection'; the characters and the
# apostrophe before them are OWASP's advice, from memory).
rm -rf "$out" "$dir/shots/captions.csv" "$dir/shots/corrections.json"
mv "$dir/shots/shot1.jpg" "$dir/shots/=cmd(1,2).jpg"
mv "$dir/shots/shot2.jpg" "$dir/shots/'@b.jpg"
sha=$(sha256sum "$dir/shots/'@b.jpg" | cut -d' ' -f1)
printf '{"schema": 1, "kind": "squareleaf corrections", "saved": "2026-03-14T10:02:11Z", "shots": {"%s": {"shot": "'\''@b.jpg", "page": "page-0001", "size": [4032, 3024], "caption": "-5 degrees"}}}' "$sha" > "$dir/shots/corrections.json"
album
ends 'such names get a table' 0 '2 of them new' "$program" captions "$out"
cat > "$dir/cells.py" <<'END'
import csv, json, sys
for path in sys.argv[1:]:
    table = list(csv.reader(open(path, encoding="utf-8-sig", newline="")))
    print(json.dumps([[cell for cell in row if cell[:1] in tuple("=+-@\t\r'")] for row in table]))
END
if have python3; then
    python3 "$dir/cells.py" "$out/report.csv" "$table" > "$dir/cells"
    equal 'no cell is a formula: report.csv' "[[], [\"''@b.jpg\"], [\"'=cmd(1,2).jpg\"]]" \
        "$(sed -n 1p "$dir/cells")"
    equal 'captions.csv' "[[], [\"''@b.jpg\", \"'-5 degrees\"], [\"'=cmd(1,2).jpg\"]]" \
        "$(sed -n 2p "$dir/cells")"
else
    skip 'no cell is a formula' python3
fi
album
says 'the table says what corrections say' '2 shots, all done before' "$dir/stderr"
json 'the word comes back as it was' "$out/report.json" \
    '[p.get("words") for p in j["pages"]] == [{"caption": "-5 degrees"}, None]'
sed "/=cmd/s/page-0002,/page-0002,=2+3/" "$table" > "$dir/filled"
cp "$dir/filled" "$table"
album
json "a person's own text is taken as it is" "$out/report.json" \
    '[p["words"]["caption"] for p in j["pages"]] == ["-5 degrees", "=2+3"]'
ends 'the rows are known again' 0 'left as it is' "$program" captions "$out"
check 'and stay' cmp "$table" "$dir/filled"
rm "$table"
album
for k in 1 2; do
    run "$program" album "$dir/shots" "$dir/joined" --page-size 12x12in --ppi 60 --min-ppi 30 \
        --fail-on never --share $k/2
done
ends 'shares of it are gathered' 0 '' "$program" gather "$dir/joined" "$dir/joined" --fail-on never
check 'with the same report.csv' cmp "$out/report.csv" "$dir/joined/report.csv"
close_count
