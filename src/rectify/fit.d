src/rectify/fit.o: src/rectify/fit.c src/rectify/fit.h src/rectify/view.h \
 src/geometry/camera.h include/squareleaf.h src/geometry/profile.h \
 src/base/error.h src/base/compiler.h src/geometry/linear.h \
 /usr/include/cminpack-1/cminpack.h
src/rectify/fit.h:
src/rectify/view.h:
src/geometry/camera.h:
include/squareleaf.h:
src/geometry/profile.h:
src/base/error.h:
src/base/compiler.h:
src/geometry/linear.h:
/usr/include/cminpack-1/cminpack.h:
