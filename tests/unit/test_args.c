/*
 * The command line of design section 8: values, wrong values, near misses. The parser belongs to
 * the program and not to the library, so it is compiled in here, its help too.
 */
#include "cli/args.c"
#include "cli/help.c"
#include "cli/judge.c"
#include "cli/near.c"
#include "cli/say.c"

#include <unistd.h>

#include "support/near.h"

#define COUNT(a) (sizeof(a) / sizeof *(a))

enum { WORDS = 24 };

/* What the last parse wrote to standard error, and how it ended. */
typedef struct outcome {
    bool      ok;
    arguments args;
    char      words[512];    /* argv's own text: args points into it */
    char      said[512];
} outcome;

/* Parses `squareleaf LINE`, the line split at single blanks. */
static void parse(outcome *o, const char *line)
{
    char *argv[WORDS + 1] = { o->words };
    FILE *caught = tmpfile();
    const int saved = dup(STDERR_FILENO);
    size_t length;
    int argc = 1;

    assert_non_null(caught);
    assert_true(saved >= 0);
    (void)snprintf(o->words, sizeof o->words, "squareleaf%s%s", *line != '\0' ? " " : "", line);
    for (char *p = o->words; *p != '\0'; p++) {
        if (*p == ' ') {
            *p = '\0';
            assert_true(argc < WORDS);
            argv[argc++] = p + 1;
        }
    }
    (void)fflush(stderr);
    assert_true(dup2(fileno(caught), STDERR_FILENO) >= 0);
    o->ok = parse_arguments(&o->args, argc, argv);
    (void)fflush(stderr);
    (void)dup2(saved, STDERR_FILENO);
    (void)close(saved);
    rewind(caught);
    length = fread(o->said, 1, sizeof o->said - 1, caught);
    o->said[length] = '\0';
    (void)fclose(caught);
}

static const arguments *taken(outcome *o, const char *line)
{
    parse(o, line);
    if (!o->ok)
        fail_msg("%s: %s", line, o->said);
    if (o->said[0] != '\0')
        fail_msg("%s is taken, yet says: %s", line, o->said);
    return &o->args;
}

/* Refused in one line that names the program and holds `word`. */
static void refused(const char *line, const char *word)
{
    outcome o;

    parse(&o, line);
    if (o.ok)
        fail_msg("%s was taken", line);
    if (strncmp(o.said, "squareleaf: ", 12) != 0 || strstr(o.said, word) == NULL
        || strchr(o.said, '\n') != o.said + strlen(o.said) - 1)
        fail_msg("%s says '%s', expected one line with '%s'", line, o.said, word);
}

static void defaults_are_the_designs(void **state)
{
    outcome o;
    const arguments *a = taken(&o, "album shots out");

    (void)state;
    assert_int_equal(a->command, ALBUM);
    assert_string_equal(a->operand[0], "shots");
    assert_string_equal(a->operand[1], "out");
    assert_near("ppi", a->settings.ppi, 300, 0);
    assert_near("min ppi: half of ppi", a->settings.min_ppi, 0, 0);
    assert_near("margin", a->settings.margin_mm, 0, 0);
    assert_near("no page size", a->settings.page_mm[0], 0, 0);
    assert_int_equal(a->settings.quality, 95);
    assert_int_equal(a->settings.master, SL_FORMAT_TIFF);
    assert_int_equal(a->settings.access, SL_FORMAT_JPEG);
    assert_int_equal(a->settings.compression, SL_DEFLATE);
    assert_int_equal(a->settings.bits, 0);
    assert_int_equal(a->settings.turn_deg, 0);
    assert_int_equal(a->fail_on, FAIL_LOOK);
    assert_int_equal(a->order, SL_ORDER_NAME);
    assert_false(a->versos_reversed || a->name != NULL);
    assert_false(a->force || a->redo || a->rehash || a->json || a->quiet);
    assert_false(a->page_size_given);
}

static void values_arrive(void **state)
{
    outcome o;
    const arguments *a;

    (void)state;
    a = taken(&o, "page in.jpg out.tif --page-size 8.5x11in --ppi 400 --no-upsample --min-ppi 120.5 "
                  "--margin 0.25in --turn 270 --quality 80 --bits 16");
    assert_near("width", a->settings.page_mm[0], 215.9, 1e-12);
    assert_near("height", a->settings.page_mm[1], 279.4, 1e-12);
    assert_near("ppi", a->settings.ppi, 400, 0);
    assert_near("min ppi", a->settings.min_ppi, 120.5, 1e-12);
    assert_near("margin", a->settings.margin_mm, 6.35, 1e-12);
    assert_int_equal(a->settings.turn_deg, 270);
    assert_int_equal(a->settings.quality, 80);
    assert_int_equal(a->settings.bits, 16);
    assert_true(a->settings.no_upsample);
    a = taken(&o, "page - - --format png --compress lzw --jobs 3 --force --limit soft=3.5");
    assert_int_equal(a->format, SL_FORMAT_PNG);
    assert_int_equal(a->settings.compression, SL_LZW);
    assert_int_equal(a->jobs, 3);
    assert_true(a->force);
    assert_string_equal(a->operand[0], "-");
    assert_string_equal(a->operand[1], "-");
    assert_near("limit", a->settings.limit[SL_CODE_SOFT], 3.5, 0);
    a = taken(&o, "album a b --master png --access none --order time --memory 1.5G --fail-on never");
    assert_int_equal(a->settings.master, SL_FORMAT_PNG);
    assert_int_equal(a->settings.access, SL_FORMAT_UNKNOWN);
    assert_int_equal(a->order, SL_ORDER_TIME);
    assert_int_equal(a->memory, 1500000000);
    assert_int_equal(a->fail_on, FAIL_NEVER);
    a = taken(&o, "album a b --master PNG --colour sRGB --captions c.csv --memory 800mb");
    assert_int_equal(a->settings.master, SL_FORMAT_PNG);
    assert_int_equal(a->settings.colour, SL_COLOUR_SRGB);
    assert_int_equal(a->memory, 800000000);
    assert_string_equal(a->captions, "c.csv");
    assert_true(was_given(a, "--captions"));
    a = taken(&o, "book a b.pdf --paper A4 --captions below");
    assert_int_equal(a->book.paper, SL_PAPER_A4);
    assert_true(a->book.captions_below && was_given(a, "--captions"));
    a = taken(&o, "plan --camera 4032\xc3\x97" "3024 --page-size a4");
    assert_int_equal(a->camera[1], 3024);
    a = taken(&o, "help book");
    assert_true(a->help && a->command == BOOK);
    a = taken(&o, "plan --camera 4032x3024 --page-size a4 --pages 4000 --json");
    assert_int_equal(a->camera[0], 4032);
    assert_int_equal(a->camera[1], 3024);
    assert_int_equal(a->pages, 4000);
    assert_int_equal(a->operands, 0);
    assert_true(a->json);
    a = taken(&o, "outline s.jpg --grid 33 --draw d.png --numbers n.json");
    assert_int_equal(a->grid, 33);
    assert_string_equal(a->draw, "d.png");
    assert_string_equal(a->numbers, "n.json");
}

static void corners_and_frame(void **state)
{
    outcome o;
    const arguments *a = taken(&o, "page a b.png --exact --corners 1,2,3.5,-4,5,6,.5,8");

    (void)state;
    assert_true(a->settings.has_corners && a->settings.exact && !a->settings.whole_frame);
    assert_point_near("second", a->settings.corners[1], 3.5, -4, 0);
    assert_point_near("fourth", a->settings.corners[3], 0.5, 8, 0);
    a = taken(&o, "page a b.png --corners frame");
    assert_true(a->settings.whole_frame && !a->settings.has_corners);
    refused("page a b.png --corners 1,2,3,4,5,6,7", "eight numbers");
    refused("page a b.png --corners 1,2,3,4,5,6,7,8,9", "eight numbers");
    refused("page a b.png --corners 1,2,3,4,5,6,7,x", "eight numbers");
    refused("page a b.png --corners 1,2,3,4,5,6,7,8", "do not go round a page");
    refused("page a b.png --corners 0,0,0,9,9,9,9,0", "clockwise");
    refused("page a b.png --exact", "--corners");
}

static void options_and_names_mix(void **state)
{
    outcome o;
    const arguments *a = taken(&o, "page --ppi=250 -q -- -a.jpg --b.tif");

    (void)state;
    assert_near("ppi", a->settings.ppi, 250, 0);
    assert_true(a->quiet);
    assert_string_equal(a->operand[0], "-a.jpg");
    assert_string_equal(a->operand[1], "--b.tif");
    a = taken(&o, "page a --page-size=a4 b.tif");
    assert_string_equal(a->operand[1], "b.tif");
    assert_near("a4", a->settings.page_mm[1], 297, 0);
    /* the last of two counts */
    a = taken(&o, "page a b.tif --ppi 200 --ppi 600");
    assert_near("last", a->settings.ppi, 600, 0);
    a = taken(&o, "album a b --page-size none");
    assert_true(a->page_size_given && a->page_size_none);
    assert_true(was_given(a, "--page-size"));
    assert_false(was_given(a, "--ppi"));
}

static void wrong_values_are_named(void **state)
{
    static const struct { const char *line; const char *word; } wrong[] = {
        { "page a b.tif --page-size 12x12", "12x12in" },
        { "page a b.tif --page-size", "missing" },
        { "page a b.tif --ppi 0", "1 to 4800" },
        { "page a b.tif --ppi 300x", "1 to 4800" },
        { "page a b.tif --ppi nan", "1 to 4800" },
        { "page a b.tif --ppi 1e3", "1 to 4800" },
        { "page a b.tif --ppi ", "1 to 4800" },
        { "page a b.tif --turn 45", "0, 90, 180 or 270" },
        { "page a b.tif --turn -90", "0, 90, 180 or 270" },
        { "page a b.tif --quality 101", "1 to 100" },
        { "page a b.tif --quality 0", "1 to 100" },
        { "page a b.tif --bits 12", "8 or 16" },
        { "page a b.tif --compress zip", "deflate, lzw or none" },
        { "page a b.tif --format gif", "jpeg, png or tiff" },
        { "page a b.tif --margin 5 --page-size a4", "a length" },
        { "page a b.tif --margin 5mm", "--page-size" },
        { "page a b.tif --no-upsample", "--page-size" },
        { "page a b.tif --limit soft", "CODE=VALUE" },
        { "page a b.tif --limit sofd=2", "CODE=VALUE, like soft=3; the codes are several-pages, near-frame" },
        { "page a b.tif --limit", ", soft, glare, clipped" },
        { "page a b.tif --limit no-page=1", "CODE=VALUE" }, /* it has no figure */
        { "page a b.tif --limit soft=-1", "CODE=VALUE" },
        { "album a b --master jpeg", "tiff, png or none" },
        { "album a b --access tiff", "jpeg or none" },
        { "album a b --order size", "name, time or rectos-versos" },
        { "album a b --jobs 0", "1 to 256" },
        { "album a b --jobs 99999999999999999999", "1 to 256" },
        { "album a b --memory 4", "4G" },
        { "album a b --memory 4GG", "4G" },
        { "album a b --fail-on pass", "look, reshoot or never" },
        { "outline a --grid 1", "2 to 1000" },
        { "plan --camera 4032", "4032x3024" },
        { "plan --camera 4032x", "4032x3024" },
        { "plan --camera x3024", "4032x3024" },
        { "plan --camera 4032x3024x2", "4032x3024" },
        { "plan --pages 0", "a whole number" },
        { "page a b.tif --force=yes", "no value" },
        { "book a b.pdf --captions above", "--captions wants below or none" },
        { "album a b --captions", "a table that captions wrote" },
        { "page a b.tif -q -v", "--verbose" },
    };

    (void)state;
    for (size_t i = 0; i < COUNT(wrong); i++)
        refused(wrong[i].line, wrong[i].word);
}

static void near_misses_get_a_suggestion(void **state)
{
    (void)state;
    refused("page a b.tif --pagesize a4", "did you mean --page-size?");
    refused("page a b.tif --qualty 90", "did you mean --quality?");
    refused("outline a --gird 9", "did you mean --grid?");
    refused("page a b.tif --size a4", "did you mean --page-size?");
    refused("page a b.tif --rotate 90", "see squareleaf page --help");
    refused("page a b.tif --xyzzyxyzzy", "see squareleaf page --help");
    refused("page a b.tif --x-name-longer-than-any-option-there-is-or-will-be", "page --help");
    refused("pgae a b", "did you mean page?");
    refused("otuline a", "did you mean outline?");
    refused("frobnicate a", "bag, verify, captions");
    refused("--hlep", "a command comes first");
    refused("page a b.tif -x", "see squareleaf page --help");
}

/* An option of another command is not taken in silence. */
static void options_belong_to_commands(void **state)
{
    static const char *const lines[] = {
        "page a b.tif --master tiff", "page a b.tif --grid 5",   "album a b --format tiff",
        "album a b --camera 10x10",   "outline a --quality 90",  "outline a --jobs 2",
        "plan --turn 90",             "plan --no-upsample",      "outline a --no-upsample",
        "page a b.tif --redo",        "album a b --draw d.png",  "plan --limit soft=3",
    };

    (void)state;
    for (size_t i = 0; i < COUNT(lines); i++)
        refused(lines[i], " does not take --");
}

static void names_are_counted(void **state)
{
    outcome o;

    (void)state;
    refused("album a", "SHOTS_DIR OUT_DIR");
    refused("page a", "SHOT OUT_FILE");
    refused("page a b c", "too many names 'c'");
    refused("outline a b", "SHOT");
    refused("plan a b", "--camera WxH or a SHOT");
    assert_int_equal(taken(&o, "outline --replay n.json")->operands, 0);
}

static void help_and_version_come_first(void **state)
{
    static const char *const help[] = { "", "help", "--help", "-h", "page --help", "album -h",
                                        "plan --help --nonsense" };
    outcome o;

    (void)state;
    for (size_t i = 0; i < COUNT(help); i++)
        assert_true(taken(&o, help[i])->help);
    assert_int_equal(taken(&o, "page --help")->command, PAGE);
    assert_true(taken(&o, "--version")->version);
    assert_true(taken(&o, "page --version")->version);
}

/* Does the text name the option, and not a longer one? */
static bool names_option(const char *text, const char *name)
{
    const size_t length = strlen(name);

    for (const char *p = strstr(text, name); p != NULL; p = strstr(p + 1, name))
        if (p > text && strchr(" ,", p[-1]) != NULL && strchr(" ,;:\n=", p[length]) != NULL)
            return true;
    return false;
}

/* A command takes the options that its help names, and no other. */
static void help_names_what_is_taken(void **state)
{
    (void)state;
    for (size_t k = 0; k < COUNT(commands); k++) {
        char text[8000];
        FILE *caught = tmpfile();
        const int saved = dup(STDOUT_FILENO);
        size_t length;

        assert_non_null(caught);
        (void)fflush(stdout);
        assert_true(saved >= 0 && dup2(fileno(caught), STDOUT_FILENO) >= 0);
        print_help(commands[k].command);
        (void)fflush(stdout);
        (void)dup2(saved, STDOUT_FILENO);
        (void)close(saved);
        rewind(caught);
        length = fread(text, 1, sizeof text - 1, caught);
        text[length] = '\0';
        (void)fclose(caught);
        assert_true(length > 0 && length < sizeof text - 1);
        for (int i = 0; i < OPTIONS; i++) {
            bool takes = false;

            for (int j = 0; j < OPTIONS; j++) /* one name may stand there for each of two */
                takes = takes || (is(options[j].name, options[i].name)
                                  && (options[j].commands & commands[k].command) != 0);
            if (is(options[i].name, "--version")
                || (is(options[i].name, "--share") && commands[k].command == GATHER))
                continue;    /* of the general help; of another command */
            if (takes != names_option(text, options[i].name))
                fail_msg("%s %s %s", commands[k].name, takes ? "takes, and does not tell of,"
                                                             : "tells of, and does not take,",
                         options[i].name);
        }
    }
}

/* Levenshtein 1966; the textbook pair (Wagner & Fischer, J. ACM 21, 1974, use the like). */
static void distances_of_words(void **state)
{
    (void)state;
    assert_int_equal(edit_distance("kitten", "sitting"), 3);
    assert_int_equal(edit_distance("", "abc"), 3);
    assert_int_equal(edit_distance("abc", ""), 3);
    assert_int_equal(edit_distance("abc", "abc"), 0);
    assert_int_equal(edit_distance("flaw", "lawn"), 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(defaults_are_the_designs),
        cmocka_unit_test(values_arrive),
        cmocka_unit_test(corners_and_frame),
        cmocka_unit_test(options_and_names_mix),
        cmocka_unit_test(wrong_values_are_named),
        cmocka_unit_test(near_misses_get_a_suggestion),
        cmocka_unit_test(options_belong_to_commands),
        cmocka_unit_test(names_are_counted),
        cmocka_unit_test(help_and_version_come_first),
        cmocka_unit_test(help_names_what_is_taken),
        cmocka_unit_test(distances_of_words),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
