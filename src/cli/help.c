#include <stdio.h>

#include "cli/cli.h"

static const char general[] =
    "squareleaf turns photographs of whole album pages into flat, cropped pages.\n"
    "\n"
    "  squareleaf album SHOTS_DIR OUT_DIR   a folder of shots -> a folder of pages\n"
    "  squareleaf page SHOT OUT_FILE        one shot; the format follows the ending\n"
    "  squareleaf outline SHOT              outline and page map as JSON; writes no page\n"
    "  squareleaf plan --camera 4032x3024 --page-size 12x12in   what a camera can do\n"
    "  squareleaf plan SHOT --page-size 12x12in                 how good a test shot is\n"
    "  squareleaf review OUT_DIR            review.html, to look the pages through, again\n"
    "  squareleaf gather OUT_DIR SHARE_DIR...   shares of one album, joined\n"
    "  squareleaf captions OUT_DIR          a table to fill in: caption, date, place, people\n"
    "  squareleaf book OUT_DIR BOOK.pdf     the pages as one PDF\n"
    "  squareleaf bag OUT_DIR BAG_DIR       pages and shots as a BagIt bag, to be stored\n"
    "  squareleaf verify DIR                is every byte of a bag or an OUT_DIR as it was?\n"
    "\n"
    "`squareleaf COMMAND --help` lists a command's options; `squareleaf --version` the\n"
    "libraries. A shot is never changed or overwritten.\n"
    "\n"
    "Exit status: 0 all pages pass, 1 some are to be looked at, 2 some are to be\n"
    "photographed again or failed, 64 and up when nothing could be tried.\n";

static const char page_options[] =
    "  --page-size WxH       physical size: 12x12in, 210x297mm, 30x30cm, a4, letter;\n"
    "                        either order. Without it no print size is claimed\n"
    "  --ppi N               px per inch to write (300)\n"
    "  --no-upsample         write no more px per inch than the shot holds\n"
    "  --min-ppi N           fewer in the shot: look (half of --ppi)\n"
    "  --margin LENGTH       table kept around the page, in masters (0)\n"
    "  --turn 0|90|180|270   clockwise, in degrees (0)\n"
    "  --ignore-orientation  take all shots as stored, whatever their tags say\n"
    "  --corners x,y,...     the page's four corners in px of the upright shot, then\n"
    "                        refined; or frame: the picture is the page (found)\n"
    "  --exact               keep --corners as they are\n"
    "  --quality N           of JPEG, 1 to 100 (95, 4:4:4)\n"
    "  --bits 8|16           a sample (as the shot)\n"
    "  --compress deflate|lzw|none     of TIFF (deflate)\n"
    "  --colour keep|srgb    of masters: the shot's own space, or sRGB (keep)\n"
    "  --keep-location       the place stays in access copies too (masters only)\n";

static const char shared_options[] =
    "  --limit CODE=VALUE    another limit for one reason, like soft=3\n"
    "  --fail-on look|reshoot|never    exit status from (look)\n";

static const char last_options[] =
    "  --json                results as JSON on standard output\n"
    "  -q, --quiet           only errors\n"
    "  -v, --verbose         more about every file\n"
    "  -h, --help            this text\n";

/* of the commands that make no page */
static const char keep_options[] =
    "  -q, --quiet           only errors\n"
    "  -v, --verbose         more about every file\n"
    "  -h, --help            this text\n";

void print_help(command_id command)
{
    switch (command) {
    case ALBUM:
        (void)printf("squareleaf album SHOTS_DIR OUT_DIR [options]\n"
                     "Flattens every shot in a folder; run again, it goes on where it stopped.\n"
                     "\n%s"
                     "  --master tiff|png|none     files to keep (tiff)\n"
                     "  --access jpeg|none         files to share (jpeg)\n"
                     "  --access-pixels N     most px on their longer side, or all (all)\n"
                     "  --order WHAT          of the pages: name (shot2 before shot10), time, or\n"
                     "                        rectos-versos: all right-hand, then all left-hand\n"
                     "                        pages; --versos-reversed: these from the album's end\n"
                     "  --share K/N           only every Nth page, for several machines; see gather\n"
                     "  --each                an album for each folder in SHOTS_DIR: OUT_DIR/its-name\n"
                     "  --follow              while shooting: go on as shots arrive, till Ctrl-C\n"
                     "  --dry-run             only tell what would be done, and why\n"
                     "  --name PATTERN        of the files, from {album} {shot} {page} {state}\n"
                     "                        (page-{page}-{state})\n"
                     "  --expect N            the album's pages: more or fewer are told of\n"
                     "  --jobs N              threads (one for each core)\n"
                     "  --memory SIZE         for pages in flight (half of RAM)\n"
                     "  --optics FILE         camera and lens (OUT_DIR/optics.json)\n"
                     "  --captions FILE       the table that captions wrote and you filled in (the newer\n"
                     "                        captions.csv in OUT_DIR or SHOTS_DIR)\n"
                     "  --corrections FILE    what you said of the pages in review.html (the newest\n"
                     "                        corrections.json in SHOTS_DIR or OUT_DIR)\n"
                     "  --recalibrate         solve camera and lens again\n"
                     "  --force               replace files that are not ours\n"
                     "  --redo                do all again\n"
                     "  --rehash              trust no time stamps\n"
                     "  --renumber            new page numbers by place (a page keeps its own)\n"
                     "  --forget              not the settings of the last run into OUT_DIR\n%s%s",
                     page_options, shared_options, last_options);
        break;
    case PAGE:
        (void)printf("squareleaf page SHOT OUT_FILE [options]\n"
                     "Flattens one shot. The format follows OUT_FILE's ending; - is standard\n"
                     "input or output.\n"
                     "\n%s"
                     "  --format jpeg|png|tiff     for OUT_FILE - or another ending\n"
                     "  --jobs N              threads (one for each core)\n"
                     "  --force               replace OUT_FILE\n%s%s",
                     page_options, shared_options, last_options);
        break;
    case OUTLINE:
        (void)printf("squareleaf outline SHOT [options]\n"
                     "Finds the page and prints outline, page map and figures as JSON.\n"
                     "\n"
                     "  --page-size WxH       as for page\n"
                     "  --ppi N, --min-ppi N  as for page\n"
                     "  --turn 0|90|180|270   clockwise, in degrees (0)\n"
                     "  --ignore-orientation  take the shot as stored, whatever its tag says\n"
                     "  --corners x,y,...     as for page; --exact keeps them\n"
                     "  --grid N              with N x N page-to-shot points, row by row\n"
                     "  --draw FILE           a PNG of the shot with outline and page map\n"
                     "  --numbers FILE        all numbers that the geometry needs, no picture\n"
                     "  --replay FILE         run from such numbers instead of a SHOT\n"
                     "  --force               replace FILE\n%s%s",
                     shared_options, last_options);
        break;
    case PLAN:
        (void)printf("squareleaf plan --camera WxH --page-size SIZE [options]\n"
                     "squareleaf plan SHOT --page-size SIZE [options]\n"
                     "What a camera can do for pages of this size; with a SHOT, how good this\n"
                     "test shot is and what to move.\n"
                     "\n"
                     "  --camera WxH          the camera's picture in px, like 4032x3024\n"
                     "  --page-size SIZE      12x12in, 210x297mm, 30x30cm, a4, letter\n"
                     "  --ppi N               wanted px per inch of page (300)\n"
                     "  --pages N             to reckon disk space for (100)\n%s",
                     last_options);
        break;
    case GATHER:
        (void)printf("squareleaf gather OUT_DIR [SHARE_DIR...] [options]\n"
                     "Joins what `squareleaf album --share K/N` made, in OUT_DIR and in other folders,\n"
                     "into OUT_DIR and one report.\n"
                     "\n"
                     "  --force               replace files that are not ours\n"
                     "  --fail-on WHAT        exit status from: look, reshoot, never (look)\n%s",
                     keep_options);
        break;
    case REVIEW:
        (void)printf("squareleaf review OUT_DIR [options]\n"
                     "Makes OUT_DIR/review.html again, from the report and the small pictures\n"
                     "that `squareleaf album` left. Open it in a browser: look the pages through,\n"
                     "set wrong outlines right, accept or refuse, write captions, and save it all\n"
                     "as corrections.json for the next `squareleaf album`.\n"
                     "\n"
                     "  --force               replace a review.html that is not ours\n%s",
                     keep_options);
        break;
    case BOOK:
        (void)printf("squareleaf book OUT_DIR BOOK.pdf [options]\n"
                     "Binds the access copies of an album's folder into one PDF, each page at its\n"
                     "own size and with the very bytes of its JPEG.\n"
                     "\n"
                     "  --title TEXT          of the PDF (OUT_DIR's name)\n"
                     "  --captions below|none      words of a page in a band below it (none)\n"
                     "  --paper own|a4|letter      own: a sheet as large as the page; else the page\n"
                     "                        is made to fit and its scale is printed (own)\n"
                     "  --max-bytes SIZE      encode again, smaller, to stay below: 20MB\n"
                     "  --incomplete          go on without missing pages, and mark the gaps\n"
                     "  --force               replace BOOK.pdf\n%s",
                     keep_options);
        break;
    case BAG:
        (void)printf("squareleaf bag OUT_DIR BAG_DIR [options]\n"
                     "Makes a BagIt 1.0 bag of all that is in OUT_DIR, and of the shots, each\n"
                     "compared with what the report knows of it.\n"
                     "\n"
                     "  --shots DIR           where the shots are now (where they were)\n"
                     "  --without-shots       leave them out\n"
                     "  --incomplete          go on without missing pages and shots, and name them\n"
                     "                        in bag-info.txt\n%s",
                     keep_options);
        break;
    case CAPTIONS:
        (void)printf("squareleaf captions OUT_DIR\n"
                     "Writes OUT_DIR/captions.csv, one row a page, to be filled in with a spreadsheet\n"
                     "and saved as 'CSV UTF-8'; album reads it. What is filled in stays; run again,\n"
                     "it adds rows for new pages.\n"
                     "\n%s", keep_options);
        break;
    case VERIFY:
        (void)printf("squareleaf verify DIR [options]\n"
                     "Reads every byte of a bag, or of an OUT_DIR and its shots, and names each\n"
                     "file that is missing, changed or extra.\n"
                     "\n"
                     "  --shots DIR           of an OUT_DIR: where the shots are now\n"
                     "  --without-shots       of an OUT_DIR: do not look for them\n%s"
                     "\n"
                     "Exit status: 0 all is as it was; 1 nothing is lost, but files are extra or\n"
                     "shots out of reach; 2 something is missing or changed.\n",
                     keep_options);
        break;
    default:
        (void)fputs(general, stdout);
        break;
    }
}
