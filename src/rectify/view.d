src/rectify/view.o: src/rectify/view.c src/rectify/view.h \
 src/geometry/camera.h include/squareleaf.h src/geometry/profile.h \
 src/geometry/linear.h
src/rectify/view.h:
src/geometry/camera.h:
include/squareleaf.h:
src/geometry/profile.h:
src/geometry/linear.h:
