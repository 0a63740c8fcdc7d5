# squareleaf: `make help` lists the targets.
#
# PREFIX, DESTDIR, CC, AR, CPPFLAGS, CFLAGS and LDFLAGS are honoured; the flags are appended to.
# WERROR=1 turns warnings into errors (CI does).

VERSION := $(shell sed -n 's/^\#define SL_VERSION "\(.*\)"/\1/p' include/squareleaf.h)
SOVERSION := 0

CC ?= cc
AR ?= ar
PREFIX ?= /usr/local
BINDIR ?= $(PREFIX)/bin
LIBDIR ?= $(PREFIX)/lib
INCLUDEDIR ?= $(PREFIX)/include
MANDIR ?= $(PREFIX)/share/man
PKG_CONFIG ?= pkg-config
BUILD ?= build

# ---- sources, by name ------------------------------------------------------------------------

base_SRC := error.c image.c
geometry_SRC :=
decode_SRC :=
border_SRC :=
rectify_SRC :=
tone_SRC :=
resample_SRC :=
inspect_SRC :=
encode_SRC :=
album_SRC :=
cli_SRC :=

unit_TESTS :=
reference_TESTS :=

# ---- flags -----------------------------------------------------------------------------------

LIBS := libjpeg libpng libtiff-4 libexif lcms2 cminpack jansson nettle zlib

WARN := -Wall -Wextra -Wpedantic -Wshadow -Wconversion -Wundef -Wvla -Wstrict-prototypes \
        -Wmissing-prototypes
ifeq ($(WERROR),1)
WARN += -Werror
endif

# -ffp-contract=off: the same bytes on every machine and every vector path.
SL_CPPFLAGS := -Iinclude -Isrc -D_POSIX_C_SOURCE=200809L -D_FILE_OFFSET_BITS=64 $(shell $(PKG_CONFIG) --cflags $(LIBS))
SL_CFLAGS := -std=c11 -O2 -g -ffp-contract=off -fvisibility=hidden -fPIC -pthread $(WARN)
SL_LIBS := $(shell $(PKG_CONFIG) --libs $(LIBS)) -lm -pthread

COMPILE = $(CC) $(SL_CPPFLAGS) $(CPPFLAGS) $(SL_CFLAGS) $(CFLAGS) -MMD -MP

STAGES := base geometry decode border rectify tone resample inspect encode album
LIB_OBJ := $(foreach d,$(STAGES),$(patsubst %.c,$(BUILD)/src/$(d)/%.o,$($(d)_SRC)))
CLI_OBJ := $(patsubst %.c,$(BUILD)/src/cli/%.o,$(cli_SRC))
UNIT_BIN := $(patsubst %.c,$(BUILD)/tests/unit/%,$(unit_TESTS))
REFERENCE_BIN := $(patsubst %.c,$(BUILD)/tests/reference/%,$(reference_TESTS))

.PHONY: all test asan bench demo install uninstall clean help
.DELETE_ON_ERROR:

all: $(BUILD)/libsquareleaf.a $(if $(cli_SRC),$(BUILD)/squareleaf)

$(BUILD)/%.o: %.c
	@mkdir -p $(@D)
	$(COMPILE) -c -o $@ $<

$(BUILD)/libsquareleaf.a: $(LIB_OBJ)
	@rm -f $@
	$(AR) rcs $@ $^

$(BUILD)/squareleaf: $(CLI_OBJ) $(BUILD)/libsquareleaf.a
	$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $^ $(SL_LIBS)

$(BUILD)/tests/%: tests/%.c $(BUILD)/libsquareleaf.a
	@mkdir -p $(@D)
	$(COMPILE) -Itests $(LDFLAGS) -o $@ $< $(BUILD)/libsquareleaf.a -lcmocka $(SL_LIBS)

tests: $(UNIT_BIN) $(REFERENCE_BIN)

clean:
	rm -rf $(BUILD)

-include $(shell find $(BUILD) -name '*.d' 2>/dev/null)
