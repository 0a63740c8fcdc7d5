src/rectify/page_map.o: src/rectify/page_map.c src/rectify/view.h \
 src/geometry/camera.h include/squareleaf.h src/geometry/profile.h
src/rectify/view.h:
src/geometry/camera.h:
include/squareleaf.h:
src/geometry/profile.h:
