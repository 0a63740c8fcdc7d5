# squareleaf: `make help` lists the targets.
#
# PREFIX, DESTDIR, CC, AR, CPPFLAGS, CFLAGS and LDFLAGS are honoured; your flags come after ours,
# so they win. WERROR=1 turns warnings into errors. BUILD=DIR builds somewhere else.

VERSION := $(shell sed -n 's/^\#define SL_VERSION "\(.*\)"/\1/p' include/squareleaf.h)
SOVERSION := 0

CC ?= cc
AR ?= ar
INSTALL ?= install
PKG_CONFIG ?= pkg-config
PREFIX ?= /usr/local
BINDIR ?= $(PREFIX)/bin
LIBDIR ?= $(PREFIX)/lib
INCLUDEDIR ?= $(PREFIX)/include
MANDIR ?= $(PREFIX)/share/man
DOCDIR ?= $(PREFIX)/share/doc/squareleaf
COMPLETIONDIR ?= $(PREFIX)/share/bash-completion/completions
BUILD ?= build

# ---- sources, by name ------------------------------------------------------------------------

base_SRC := error.c blur.c bytes.c icc.c image.c large.c pool.c file.c sha256.c units.c version.c text.c sums.c
geometry_SRC := linear.c homography.c camera.c profile.c
decode_SRC := decode.c exif.c jpeg.c orient.c png.c tiff.c tiff_pixels.c
border_SRC := small.c region.c coarser.c segments.c lines.c sides.c quads.c step.c surfaces.c course.c across.c contact.c fine.c near_frame.c beneath.c notch.c shape.c pile.c goes_on.c rim.c onset.c shade.c quad.c relate.c trace.c twin.c sheets.c choose.c attempt.c better.c rate.c outline.c
rectify_SRC := optics.c page_map.c view.c pose.c seen.c fit.c inside.c search.c bound.c patch.c rectify.c album_optics.c
tone_SRC := tone.c colour.c difference.c
resample_SRC := resample.c grid.c kernel.c levels.c fixed.c tile.c bound.c paths.c paths_vector.c
inspect_SRC := figures.c sharp.c beside.c films.c faint.c beyond.c inspect.c source.c
encode_SRC := encode.c jpeg.c png.c tiff.c exif.c icc.c xmp.c
album_SRC := page.c fit.c aside.c bands.c report.c save.c folder.c journal.c names.c optics.c sweep.c work.c result.c album.c plan.c draw.c numbers.c match.c settings.c notes.c corrections.c corrections_file.c correct.c said.c ours.c pictures.c record.c
cli_SRC := main.c say.c args.c judge.c near.c help.c album.c page.c outline.c plan.c remember.c keep.c book.c bag.c verify.c
# what the pages together tell
album_SRC += together.c faults.c amend.c likeness.c faces.c twins.c place.c consensus.c
# names, order, shares and what a run would do
album_SRC += naming.c order.c why.c shares.c parse.c packed.c seal.c table.c flight.c
decode_SRC += date.c
book_SRC := book.c layout.c pdf.c pdf_calls.c smaller.c
bag_SRC := bag.c carry.c gather.c manifest.c tree.c verify.c

encode_SRC += when.c
album_SRC += guidelines.c csv.c captions.c captions_file.c words.c
cli_SRC += captions.c each.c follow.c

# The review page: what goes into one script, in the order of use.
album_SRC += review.c
cli_SRC += review.c
review_JS := store.js parts.js head.js card.js outline.js spots.js main.js

# The made scenes stand apart: they know nothing of the code that finds pages.
scenes_SRC := camera.c layout.c letters.c light.c paper.c pictures.c prints.c render.c save.c scene.c \
              sensor.c sheet.c table.c

# The survey's cases, and what they are held against.
survey_SRC := cases.c cases_page.c cases_shot.c cases_table.c contact.c judge.c table.c vary.c

unit_TESTS := test_parse.c test_page.c test_border.c test_sheets.c test_surfaces.c test_region.c test_onset.c test_inspect.c test_geometry.c test_pool.c test_tone.c test_resample.c test_rectify.c test_plan.c test_args.c test_sha256.c test_file.c test_units.c test_encode.c test_decode.c test_decode_tags.c test_decode_damage.c test_order.c test_together.c
unit_TESTS += test_heif.c test_keep.c
unit_TESTS += test_scenes.c
unit_TESTS += test_naming.c
unit_TESTS += test_corrections.c
reference_TESTS := test_geometry.c test_resample.c test_encode.c test_decode.c
reference_TESTS += test_colour.c

# ---- libraries -------------------------------------------------------------------------------

# pkg-config's names, with the least versions; README.md says which folder uses each.
LIBS := 'libjpeg >= 2.0' 'libpng >= 1.6' 'libtiff-4 >= 4.5' 'libexif >= 0.6.22' 'lcms2 >= 2.8' \
        'cminpack >= 1.3' 'jansson >= 2.10' 'nettle >= 3.4' 'zlib >= 1.2.9'

# What is not linked but loaded by name when it is asked for: by a book, by a HEIF file.
LOADED := 'cairo-pdf >= 1.16' 'pangocairo >= 1.44'

# HEIC, what phones write: HEIF=yes, no, or auto: where libheif is found.
HEIF ?= auto
ifneq ($(filter-out yes no auto,$(HEIF)),)
$(error HEIF=$(HEIF): it is yes, no or auto)
endif
HEIF_LIB := libheif >= 1.13
ifeq ($(HEIF),auto)
HEIF_USED := $(shell $(PKG_CONFIG) --exists '$(HEIF_LIB)' 2>/dev/null && echo yes)
else
HEIF_USED := $(filter yes,$(HEIF))
endif
ifeq ($(HEIF_USED),yes)
LOADED += '$(HEIF_LIB)'
decode_SRC += heif.c heif_calls.c
endif

# Asked before anything is compiled, so that a missing library is one plain sentence.
ifneq ($(filter-out help clean uninstall asan,$(or $(MAKECMDGOALS),all)),)
MISSING := $(shell for l in $(LIBS) $(LOADED); do $(PKG_CONFIG) --exists "$$l" 2>/dev/null || echo "$$l;"; done)
ifneq ($(strip $(MISSING)),)
$(error $(PKG_CONFIG) does not find $(MISSING) on Debian, scripts/install-deps installs all of them)
endif
# Others' headers are not ours to warn of.
LIBS_CFLAGS := $(patsubst -I%,-isystem %,$(shell $(PKG_CONFIG) --cflags $(LIBS) $(LOADED)))
LIBS_LIBS := $(shell $(PKG_CONFIG) --libs $(LIBS))
endif

# ---- flags -----------------------------------------------------------------------------------

WARN := -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wundef -Wvla -Wstrict-prototypes \
        -Wmissing-prototypes
ifeq ($(WERROR),1)
WARN += -Werror
endif

# -ffp-contract=off: the same bytes on every machine and every vector path.
# -ffile-prefix-map: the same program from whatever folder it is built in.
SL_CPPFLAGS := -Iinclude -Isrc -D_POSIX_C_SOURCE=200809L -D_FILE_OFFSET_BITS=64 \
               $(if $(HEIF_USED),-DSL_HEIF) $(LIBS_CFLAGS)
SL_CFLAGS := -std=c11 -O3 -fno-math-errno -g -ffp-contract=off -fvisibility=hidden -fPIC -pthread \
             -ffile-prefix-map=$(CURDIR)=. $(WARN)
SL_LIBS := $(LIBS_LIBS) -lm -ldl -pthread
# Tests make HEIF files themselves.
TEST_LIBS := $(if $(HEIF_USED),$(shell $(PKG_CONFIG) --libs libheif 2>/dev/null)) $(SL_LIBS)

COMPILE = $(CC) $(SL_CPPFLAGS) $(CPPFLAGS) $(SL_CFLAGS) $(CFLAGS) -MMD -MP
LINK = $(CC) $(SL_CFLAGS) $(CFLAGS) $(LDFLAGS)

# A library may not leave a symbol open, except to the sanitizers' runtime.
SANITIZED := $(findstring -fsanitize,$(CFLAGS) $(LDFLAGS))
SHARED := -shared -Wl,-soname,libsquareleaf.so.$(SOVERSION) $(if $(SANITIZED),,-Wl,-z,defs)

# ---- what is built ---------------------------------------------------------------------------

STAGES := base geometry decode border rectify tone resample inspect encode album book bag
LIB_OBJ := $(foreach d,$(STAGES),$(patsubst %.c,$(BUILD)/src/$(d)/%.o,$($(d)_SRC)))
LIB_OBJ += $(BUILD)/src/review/parts.o
CLI_OBJ := $(patsubst %.c,$(BUILD)/src/cli/%.o,$(cli_SRC))
UNIT_BIN := $(patsubst %.c,$(BUILD)/tests/unit/%,$(unit_TESTS))
REFERENCE_BIN := $(patsubst %.c,$(BUILD)/tests/reference/%,$(reference_TESTS))
SYSTEM_TESTS := $(sort $(wildcard tests/system/*.sh))

STATIC := $(BUILD)/libsquareleaf.a
SONAME := libsquareleaf.so.$(SOVERSION)
SOFILE := libsquareleaf.so.$(VERSION)
PROGRAM := $(BUILD)/squareleaf
MAN := $(BUILD)/squareleaf.1

.PHONY: all tests test asan memcheck bench bench-quality demo survey install uninstall clean help FORCE
.DELETE_ON_ERROR:
.SECONDARY:

all: $(STATIC) $(BUILD)/$(SOFILE) $(PROGRAM) $(MAN)

# Rewritten only when the flags differ, so that a build with other flags compiles all again.
FLAGS_NOW = $(subst ','\'',$(COMPILE) $(LDFLAGS))
$(BUILD)/flags: FORCE
	@mkdir -p $(@D)
	@echo '$(FLAGS_NOW)' | cmp -s - $@ || echo '$(FLAGS_NOW)' > $@

$(BUILD)/%.o: %.c $(BUILD)/flags
	@mkdir -p $(@D)
	$(COMPILE) -c -o $@ $<

# The review page's files as arrays of bytes: od writes them as numbers, sed puts commas between.
BYTES = od -An -v -tu1 | sed 's/ *\([0-9][0-9]*\)/\1,/g'
REVIEW_FILES := $(addprefix src/review/,review.html review.css $(review_JS))
$(BUILD)/src/review/parts.c: $(REVIEW_FILES) Makefile
	@mkdir -p $(@D)
	@{ echo '#include "review/parts.h"'; \
	    echo 'const unsigned char sl_review_page[] = {'; cat src/review/review.html | $(BYTES); \
	    echo '0 };'; \
	    echo 'const unsigned char sl_review_style[] = {'; cat src/review/review.css | $(BYTES); \
	    echo '0 };'; \
	    echo 'const unsigned char sl_review_script[] = {'; \
	    { echo "(() => { 'use strict';"; cat $(addprefix src/review/,$(review_JS)); \
	      echo '})();'; } | $(BYTES); \
	    echo '0 };'; } > $@
$(BUILD)/src/review/parts.o: $(BUILD)/src/review/parts.c $(BUILD)/flags
	$(COMPILE) -ffile-prefix-map=$(BUILD)=. -c -o $@ $<

# D: no dates or owners inside, so equal objects make an equal archive.
$(STATIC): $(LIB_OBJ)
	@rm -f $@
	$(AR) rcsD $@ $^

$(BUILD)/$(SOFILE): $(LIB_OBJ)
	$(LINK) $(SHARED) -o $@ $^ $(SL_LIBS)
	ln -sf $(SOFILE) $(BUILD)/$(SONAME)
	ln -sf $(SONAME) $(BUILD)/libsquareleaf.so

# The static library, named as a file: the program runs from where it was built.
$(PROGRAM): $(CLI_OBJ) $(STATIC)
	$(LINK) -o $@ $(CLI_OBJ) $(STATIC) $(SL_LIBS)

# SOURCE_DATE_EPOCH dates the manual; else it bears the date in its source. No clock is read.
MAN_DATE = $(shell LC_ALL=C date -u -d '@$(SOURCE_DATE_EPOCH)' '+%B %-d, %Y')
$(MAN): src/cli/squareleaf.1 FORCE
	@mkdir -p $(@D)
	@sed -e 's/@VERSION@/$(VERSION)/' \
	    $(if $(SOURCE_DATE_EPOCH),-e 's/^\.Dd .*/.Dd $(MAN_DATE)/') $< > $@

# ---- tests -----------------------------------------------------------------------------------

$(BUILD)/tests/%: tests/%.c $(STATIC) $(BUILD)/flags
	@mkdir -p $(@D)
	$(COMPILE) -Itests $(LDFLAGS) -o $@ $< $(STATIC) -lcmocka $(TEST_LIBS)

tests: $(UNIT_BIN) $(REFERENCE_BIN) $(BUILD)/tests/faults.so $(BUILD)/tests/make-shots $(BUILD)/tests/make-shot \
       $(BUILD)/survey $(BUILD)/demo/shots.made

test: all tests
	CC='$(CC)' tests/run $(PROGRAM) $(UNIT_BIN) $(REFERENCE_BIN) $(SYSTEM_TESTS)

# Any report of the sanitizers ends the program with a failure. Warnings are not errors here: what
# the sanitizers put in makes gcc warn of lengths that it cannot see any more.
SANITIZE := -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer
asan:
	ASAN_OPTIONS=detect_leaks=1:strict_string_checks=1:detect_stack_use_after_return=1 \
	LSAN_OPTIONS=suppressions=$(CURDIR)/tests/support/lsan.supp:print_suppressions=0 \
	UBSAN_OPTIONS=halt_on_error=1:print_stacktrace=1 TEST_TIMEOUT=$${TEST_TIMEOUT:-1200} \
	$(MAKE) BUILD=build-asan WERROR=0 CFLAGS='-O1 $(SANITIZE) $(CFLAGS)' \
	    LDFLAGS='$(SANITIZE) $(LDFLAGS)' test

VALGRIND := valgrind -q --error-exitcode=99 --leak-check=full --errors-for-leak-kinds=definite \
            --suppressions=$(CURDIR)/tests/support/valgrind.supp
memcheck: all tests
	TEST_WRAP='$(VALGRIND)' TEST_TIMEOUT=$${TEST_TIMEOUT:-1800} \
	    tests/run $(PROGRAM) $(UNIT_BIN)

# ---- demo, bench -----------------------------------------------------------------------------

demo: all
	scripts/demo --built $(BUILD)

bench: all
	scripts/bench --built $(BUILD)

bench-quality: $(BUILD)/bench/quality
	$(BUILD)/bench/quality

# It shares its pictures with the tests.
$(BUILD)/bench/quality: tests/bench/quality.c tests/support/patterns.h $(STATIC)
	@mkdir -p $(@D)
	$(COMPILE) -Itests $(LDFLAGS) -o $@ $< $(STATIC) -lcmocka $(SL_LIBS)

$(BUILD)/bench/%: tests/bench/%.c $(STATIC)
	@mkdir -p $(@D)
	$(COMPILE) $(LDFLAGS) -o $@ $< $(STATIC) $(SL_LIBS)

# ---- install ---------------------------------------------------------------------------------

PC := $(DESTDIR)$(LIBDIR)/pkgconfig/squareleaf.pc

install: all
	$(INSTALL) -d $(DESTDIR)$(BINDIR) $(DESTDIR)$(LIBDIR)/pkgconfig $(DESTDIR)$(INCLUDEDIR) \
	    $(DESTDIR)$(MANDIR)/man1 $(DESTDIR)$(DOCDIR) $(DESTDIR)$(COMPLETIONDIR)
	$(INSTALL) -m 755 $(PROGRAM) $(DESTDIR)$(BINDIR)/squareleaf
	$(INSTALL) -m 644 $(STATIC) $(DESTDIR)$(LIBDIR)/libsquareleaf.a
	$(INSTALL) -m 644 $(BUILD)/$(SOFILE) $(DESTDIR)$(LIBDIR)/$(SOFILE)
	ln -sf $(SOFILE) $(DESTDIR)$(LIBDIR)/$(SONAME)
	ln -sf $(SONAME) $(DESTDIR)$(LIBDIR)/libsquareleaf.so
	$(INSTALL) -m 644 include/squareleaf.h $(DESTDIR)$(INCLUDEDIR)/squareleaf.h
	$(INSTALL) -m 644 $(MAN) $(DESTDIR)$(MANDIR)/man1/squareleaf.1
	$(INSTALL) -m 644 README.md LICENSE $(DESTDIR)$(DOCDIR)
	$(INSTALL) -m 644 src/cli/squareleaf.bash $(DESTDIR)$(COMPLETIONDIR)/squareleaf
	sed -e 's|@PREFIX@|$(PREFIX)|' -e 's|@LIBDIR@|$(LIBDIR)|' -e 's|@VERSION@|$(VERSION)|' \
	    -e 's|@INCLUDEDIR@|$(INCLUDEDIR)|' -e 's|@LIBS@|$(SL_LIBS)|' \
	    src/squareleaf.pc.in > $(PC)
	chmod 644 $(PC)

uninstall:
	rm -f $(DESTDIR)$(BINDIR)/squareleaf $(DESTDIR)$(LIBDIR)/libsquareleaf.a \
	    $(DESTDIR)$(LIBDIR)/libsquareleaf.so $(DESTDIR)$(LIBDIR)/$(SONAME) \
	    $(DESTDIR)$(LIBDIR)/$(SOFILE) $(DESTDIR)$(INCLUDEDIR)/squareleaf.h $(PC) \
	    $(DESTDIR)$(MANDIR)/man1/squareleaf.1 $(DESTDIR)$(DOCDIR)/README.md \
	    $(DESTDIR)$(DOCDIR)/LICENSE $(DESTDIR)$(COMPLETIONDIR)/squareleaf
	-rmdir $(DESTDIR)$(DOCDIR) 2>/dev/null

clean:
	rm -rf $(BUILD) build-asan

help:
	@echo 'make            library, program and manual, into $(BUILD)/'
	@echo 'make test       unit, reference and system tests (needs cmocka; skips by name what else it lacks)'
	@echo 'make demo       make a small album, flatten it, say where to look'
	@echo 'make bench      measure speed and memory, and make bench-quality: what resampling does'
	@echo 'make survey     1,000 made shots of every kind: how often the page is found, and truly'
	@echo 'make asan       build in build-asan/ with the address and undefined sanitizers, and test'
	@echo 'make memcheck   the unit tests under valgrind'
	@echo 'make install    into $$(DESTDIR)$$(PREFIX), now $(DESTDIR)$(PREFIX)'
	@echo 'make uninstall  takes those files away again'
	@echo 'make clean      removes $(BUILD)/ and build-asan/'
	@echo
	@echo 'PREFIX DESTDIR CC AR CPPFLAGS CFLAGS LDFLAGS are honoured; WERROR=1; BUILD=DIR'
	@echo 'HEIF=yes|no|auto: HEIC by libheif (auto: where it is found)'

# ---- made scenes, for the demo and for surveys -----------------------------------------------

SCENES_OBJ := $(patsubst %.c,$(BUILD)/tests/scenes/%.o,$(scenes_SRC))

$(BUILD)/tests/scenes/%.o: tests/scenes/%.c $(BUILD)/flags
	@mkdir -p $(@D)
	$(COMPILE) -Itests -c -o $@ $<

$(BUILD)/demo/make-album: demo/make-album.c $(SCENES_OBJ) $(BUILD)/libsquareleaf.a
	@mkdir -p $(@D)
	$(COMPILE) -Itests $(LDFLAGS) -o $@ $< $(SCENES_OBJ) $(BUILD)/libsquareleaf.a $(SL_LIBS)

# Drawing takes a while, so the demo and the tests share one set of shots.
$(BUILD)/demo/shots.made: $(BUILD)/demo/make-album
	rm -rf $(BUILD)/demo/album
	mkdir $(BUILD)/demo/album
	$(BUILD)/demo/make-album $(BUILD)/demo/album
	@touch $@

# Loaded before the program by a test; it names both kinds of open() itself.
$(BUILD)/tests/faults.so: tests/support/faults.c $(BUILD)/flags
	$(CC) -std=gnu11 -O1 -fPIC -shared -Wall -Wextra -o $@ $< -ldl

$(BUILD)/tests/make-shots $(BUILD)/tests/make-shot: $(BUILD)/tests/%: tests/scenes/%.c $(SCENES_OBJ) $(BUILD)/libsquareleaf.a
	@mkdir -p $(@D)
	$(COMPILE) -Itests $(LDFLAGS) -o $@ $< $(SCENES_OBJ) $(BUILD)/libsquareleaf.a $(SL_LIBS)

$(BUILD)/tests/make-testdata: tests/scenes/make-testdata.c $(SCENES_OBJ) $(BUILD)/libsquareleaf.a
	@mkdir -p $(@D)
	$(COMPILE) -Itests $(LDFLAGS) -o $@ $< $(SCENES_OBJ) $(BUILD)/libsquareleaf.a $(SL_LIBS)

# ---- surveys ---------------------------------------------------------------------------------

SURVEY_OBJ := $(patsubst %.c,$(BUILD)/tests/survey/%.o,$(survey_SRC))

$(BUILD)/tests/survey/%.o: tests/survey/%.c $(BUILD)/flags
	@mkdir -p $(@D)
	$(COMPILE) -Itests -c -o $@ $<

$(BUILD)/survey: tests/survey/survey.c $(SURVEY_OBJ) $(SCENES_OBJ) $(STATIC) $(BUILD)/flags
	@mkdir -p $(@D)
	$(COMPILE) -Itests $(LDFLAGS) -o $@ $< $(SURVEY_OBJ) $(SCENES_OBJ) $(STATIC) $(SL_LIBS)

$(BUILD)/tests/unit/test_scenes: tests/unit/test_scenes.c $(SURVEY_OBJ) $(SCENES_OBJ) $(STATIC) $(BUILD)/flags
	@mkdir -p $(@D)
	$(COMPILE) -Itests $(LDFLAGS) -o $@ $< $(SURVEY_OBJ) $(SCENES_OBJ) $(STATIC) -lcmocka $(SL_LIBS)

survey: all
	scripts/survey

$(BUILD)/survey-geometry $(BUILD)/survey-optics: $(BUILD)/survey-%: tests/survey/%.c tests/survey/made.c tests/survey/made.h $(STATIC)
	@mkdir -p $(@D)
	$(COMPILE) -Itests $(LDFLAGS) -o $@ $< tests/survey/made.c $(STATIC) $(SL_LIBS)

# ---- dependencies ----------------------------------------------------------------------------

-include $(LIB_OBJ:.o=.d) $(CLI_OBJ:.o=.d) $(UNIT_BIN:=.d) $(REFERENCE_BIN:=.d) \
    $(SCENES_OBJ:.o=.d) $(SURVEY_OBJ:.o=.d) $(BUILD)/survey.d $(BUILD)/demo/make-album.d \
    $(BUILD)/tests/make-shots.d $(BUILD)/tests/make-shot.d
