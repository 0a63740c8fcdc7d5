src/border/lines.o: src/border/lines.c src/border/search.h \
 include/squareleaf.h src/base/error.h src/base/compiler.h
src/border/search.h:
include/squareleaf.h:
src/base/error.h:
src/base/compiler.h:
