src/rectify/pose.o: src/rectify/pose.c src/rectify/pose.h \
 include/squareleaf.h src/base/error.h src/base/compiler.h \
 src/geometry/camera.h src/geometry/linear.h
src/rectify/pose.h:
include/squareleaf.h:
src/base/error.h:
src/base/compiler.h:
src/geometry/camera.h:
src/geometry/linear.h:
