src/inspect/inspect.o: src/inspect/inspect.c src/base/compiler.h \
 src/base/error.h include/squareleaf.h src/inspect/figures.h
src/base/compiler.h:
src/base/error.h:
include/squareleaf.h:
src/inspect/figures.h:
