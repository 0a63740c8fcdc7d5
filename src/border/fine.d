src/border/fine.o: src/border/fine.c src/border/fine.h \
 include/squareleaf.h src/border/step.h
src/border/fine.h:
include/squareleaf.h:
src/border/step.h:
