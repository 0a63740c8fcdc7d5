src/rectify/seen.o: src/rectify/seen.c src/rectify/seen.h \
 src/rectify/fit.h src/rectify/view.h src/geometry/camera.h \
 include/squareleaf.h src/geometry/profile.h src/base/error.h \
 src/base/compiler.h
src/rectify/seen.h:
src/rectify/fit.h:
src/rectify/view.h:
src/geometry/camera.h:
include/squareleaf.h:
src/geometry/profile.h:
src/base/error.h:
src/base/compiler.h:
