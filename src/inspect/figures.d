src/inspect/figures.o: src/inspect/figures.c src/inspect/figures.h \
 include/squareleaf.h src/base/error.h src/base/compiler.h
src/inspect/figures.h:
include/squareleaf.h:
src/base/error.h:
src/base/compiler.h:
