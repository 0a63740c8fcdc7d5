#!/bin/sh
# `outline`: the JSON of the contract, its numbers against the made shot's own, exit statuses.
# usage: outline.sh PROGRAM

. tests/support/check.sh
begin "$1" 6
cd "$dir" || exit 1
shot=shots/shot1.jpg
small='--page-size 8x8in --ppi 80'
before=$(sums shots)

ends 'a good shot: 0' 0 '' "$program" outline "$shot" $small --grid 5
cp stdout good.json
json 'the keys of the contract' good.json \
    'set("schema shot width height corners edges model params page_mm aspect residual_px".split()
    + "residual_mm inside_error_mm native_ppi confidence verdict reasons grid".split()) <= set(j)
    and j["schema"] == 1 and j["shot"] == "shot1.jpg" and (j["width"], j["height"]) == (1008, 756)'
json 'kinds of values' good.json \
    'j["model"] in ("flat", "lens", "sheet", "patch") and j["verdict"] == "pass"
    and j["reasons"] == [] and isinstance(j["params"], dict) and len(j["page_mm"]) == 2
    and set("min p5 median".split()) <= set(j["native_ppi"]) and 0 < j["confidence"] <= 1
    and j["native_ppi"]["min"] <= j["native_ppi"]["p5"] <= j["native_ppi"]["median"]'
json 'four corners clockwise from the top left, in the picture' good.json \
    'len(j["corners"]) == 4 and all(0 <= x < 1008 and 0 <= y < 756 for x, y in j["corners"])
    and j["corners"][0][0] < j["corners"][1][0] and j["corners"][1][1] < j["corners"][2][1]
    and j["corners"][2][0] > j["corners"][3][0] and j["corners"][3][1] > j["corners"][0][1]'
# Of a flat page each edge point lies on the line between two corners, in order from the first.
json 'four edges of points, each from its corner to the next' good.json \
    'list(j["edges"]) == ["top", "right", "bottom", "left"] and all(len(e) >= 8 and
    all(abs((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])) / 640 < 0.5 for p in e)
    and [(p[0] - a[0]) * (b[0] - a[0]) + (p[1] - a[1]) * (b[1] - a[1]) for p in e] ==
    sorted((p[0] - a[0]) * (b[0] - a[0]) + (p[1] - a[1]) * (b[1] - a[1]) for p in e)
    for a, b, e in zip(j["corners"], j["corners"][1:] + j["corners"][:1], j["edges"].values()))'
json '--grid 5: 25 points, row by row, ends on the corners' good.json \
    'len(j["grid"]) == 25 and all(abs(a - b) < 1.5 for g, c in ((0, 0), (4, 1), (24, 2), (20, 3))
    for a, b in zip(j["grid"][g], j["corners"][c]))'
json 'a page of 203.2 mm, square' good.json \
    'j["page_mm"] == [203.2, 203.2] and abs(j["aspect"] - 1) < 0.003'
# The sides in px and 8 in give the resolution without the program's page map.
json 'native ppi: the median is that of the sides' good.json \
    'abs(j["native_ppi"]["median"] / (sum(((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5
    for a, b in zip(j["corners"], j["corners"][1:] + j["corners"][:1])) / 32) - 1) < 0.02'

ends 'without --page-size' 0 '' "$program" outline "$shot"
json 'no size in mm, no grid' stdout \
    'j["page_mm"] is None and j["native_ppi"] is None and j.get("grid") is None'
ends '--json: one line' 0 '' "$program" outline "$shot" $small --grid 5 --json
equal 'of one line' 1 "$(wc -l < stdout | tr -d ' ')"
cp stdout line.json
json 'the same as in many lines' line.json 'j == json.load(open("good.json"))'
ends '--turn' 0 '' "$program" outline "$shot" $small --grid 5 --turn 90
# Clockwise by 90: the page's top left is what was bottom left (place 3), its top right what was
# top left (0).
json 'the grid of --turn 90 begins bottom left' stdout \
    'all(abs(a - b) < 1.5 for g, c in ((0, 3), (4, 0), (24, 1), (20, 2))
    for a, b in zip(j["grid"][g], json.load(open("good.json"))["corners"][c]))'
ends 'from standard input' 0 '' \
    sh -c '"$1" outline - --page-size 8x8in --ppi 80 --grid 5 < "$2"' sh "$program" "$shot"
json 'the same outline' stdout \
    'all(j[k] == v for k, v in json.load(open("good.json")).items() if k != "shot")'

ends 'few pixels: 1' 1 '' "$program" outline "$shot" --page-size 8x8in
json 'few-pixels: figure, limit and a sentence' stdout \
    'j["verdict"] == "look" and [(r["code"], r["limit"], r["unit"]) for r in j["reasons"]] ==
    [("few-pixels", 150, "ppi")] and 70 < j["reasons"][0]["value"] < 90
    and j["reasons"][0]["text"].endswith(".")'
ends 'few pixels, another limit: 0' 0 '' \
    "$program" outline "$shot" --page-size 8x8in --limit few-pixels=50
ends 'a limit of a reason without a figure: 64' 64 'limit' \
    "$program" outline "$shot" --limit cut=2
ends 'few pixels, --fail-on reshoot: 0' 0 '' \
    "$program" outline "$shot" --page-size 8x8in --fail-on reshoot
ends 'cut by the frame: 2' 2 '' "$program" outline shots/shot5.jpg $small
json 'reason cut' stdout \
    'j["verdict"] == "reshoot" and "cut" in [r["code"] for r in j["reasons"]]'
ends 'no page: 2' 2 '' "$program" outline shots/shot6.jpg $small
json 'corners are null, reason no-page' stdout \
    'j["corners"] is None and j["verdict"] == "reshoot"
    and "no-page" in [r["code"] for r in j["reasons"]]'
ends 'another size than said is seen' 1 '' \
    "$program" outline "$shot" --page-size 8x10in --min-ppi 40
json 'reason size-differs' stdout '"size-differs" in [r["code"] for r in j["reasons"]]'

echo 'text' > text.jpg
: > empty.jpg
mkfifo pipe.jpg
ends 'text named .jpg: 2' 2 'signature' "$program" outline text.jpg
ends 'an empty file: 2' 2 'empty' "$program" outline empty.jpg
ends 'a FIFO: 2' 2 'named pipe' "$program" outline pipe.jpg
ends 'a folder: 2' 2 'a folder' "$program" outline shots
ends 'no SHOT: 66' 66 'none.jpg' "$program" outline none.jpg
ends 'a drawing with the ending of another format: 64' 64 'name a file that ends in .png' \
    "$program" outline shots/shot1.jpg --draw drawn.jpg
absent 'is not made' drawn.jpg
equal 'an error prints no JSON' '' "$(cat stdout)"
ends 'no operand: 64' 64 'SHOT' "$program" outline
ends 'a grid of one: 64' 64 'grid' "$program" outline "$shot" --grid 1
ends 'an option of another command: 64' 64 'margin' "$program" outline "$shot" --margin 1mm
ends 'a page size that is none: 64' 64 'page-size' "$program" outline "$shot" --page-size big
equal 'the shots are as before' "$before" "$(sums shots)"
equal 'and nothing was written' 6 "$(ls shots | wc -l | tr -d ' ')"
close_count
