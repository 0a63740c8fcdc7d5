src/rectify/inside.o: src/rectify/inside.c src/rectify/inside.h \
 src/rectify/fit.h src/rectify/view.h src/geometry/camera.h \
 include/squareleaf.h src/geometry/profile.h
src/rectify/inside.h:
src/rectify/fit.h:
src/rectify/view.h:
src/geometry/camera.h:
include/squareleaf.h:
src/geometry/profile.h:
