src/rectify/rectify.o: src/rectify/rectify.c src/base/error.h \
 src/base/compiler.h include/squareleaf.h src/rectify/inside.h \
 src/rectify/fit.h src/rectify/view.h src/geometry/camera.h \
 src/geometry/profile.h src/rectify/pose.h src/rectify/seen.h
src/base/error.h:
src/base/compiler.h:
include/squareleaf.h:
src/rectify/inside.h:
src/rectify/fit.h:
src/rectify/view.h:
src/geometry/camera.h:
src/geometry/profile.h:
src/rectify/pose.h:
src/rectify/seen.h:
