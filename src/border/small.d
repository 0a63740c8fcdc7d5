src/border/small.o: src/border/small.c src/border/search.h \
 include/squareleaf.h src/base/error.h src/base/compiler.h
src/border/search.h:
include/squareleaf.h:
src/base/error.h:
src/base/compiler.h:
