src/border/outline.o: src/border/outline.c src/base/error.h \
 src/base/compiler.h include/squareleaf.h src/border/fine.h \
 src/border/search.h
src/base/error.h:
src/base/compiler.h:
include/squareleaf.h:
src/border/fine.h:
src/border/search.h:
