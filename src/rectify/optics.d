src/rectify/optics.o: src/rectify/optics.c include/squareleaf.h
include/squareleaf.h:
